/// Files that are whole or not there, and still so after a power cut.
#pragma once

#include <tl/expected.hpp>

#include <string>
#include <string_view>

namespace afterload::runner {

/// Gives a finished temporary file its name: the file is flushed, renamed, and its folder flushed.
[[nodiscard]] tl::expected<void, std::string> settle(const std::string& temporary,
                                                     const std::string& final_path);

/// Writes `bytes` beside `path` under another name and settles it. Fails, in one line, where the
/// disk does not take it; what was at `path` is then still there.
[[nodiscard]] tl::expected<void, std::string> write_durably(const std::string& path,
                                                            std::string_view bytes);

}  // namespace afterload::runner
