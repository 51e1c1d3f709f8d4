/// Bytes as text: RFC 4648, section 4, with its padding and without line breaks.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace afterload::runner {

[[nodiscard]] std::string base64(std::string_view bytes);

/// Nothing for what is no base64, to the letter: a line break, padding left out, bits left over.
[[nodiscard]] std::optional<std::string> from_base64(std::string_view text);

}  // namespace afterload::runner
