/// Text as SCPI compares it: without the blanks around it, and small letters as capitals.
#pragma once

#include <string>
#include <string_view>

namespace afterload::instruments {

/// `text` without blanks, tabs and ends of line before and behind.
[[nodiscard]] std::string_view trimmed(std::string_view text);

/// a to z as A to Z, whatever the locale.
[[nodiscard]] char capital(char letter);
[[nodiscard]] std::string in_capitals(std::string_view text);

}  // namespace afterload::instruments
