/// SHA-256 of what a run folder holds; the one door to libcrypto.
#pragma once

#include <tl/expected.hpp>

#include <string>
#include <string_view>

namespace afterload::runner {

/// 64 lower-case hexadecimal digits.
[[nodiscard]] std::string sha256(std::string_view bytes);

/// Of a whole file. Fails when it cannot be read; the error says why.
[[nodiscard]] tl::expected<std::string, std::string> sha256_of_file(const std::string& path);

}  // namespace afterload::runner
