/// UTF-8, one character at a time.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace afterload::sequences {

struct DecodedCharacter {
    char32_t code = 0;
    std::size_t bytes = 1;  ///< 1 where the first byte is not valid
    bool valid = false;
};

/// The first character of `text`, which must not be empty. Overlong forms, surrogates and anything
/// above U+10FFFF are not valid (RFC 3629, section 4).
[[nodiscard]] DecodedCharacter decode_utf8(std::string_view text);

/// How many characters lie in the text; an invalid byte counts as one.
[[nodiscard]] int characters(std::string_view text);

}  // namespace afterload::sequences
