/// UTF-8 text from outside, one character at a time.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace afterload::runner {

struct Utf8Character {
    char32_t code = U'\ufffd';
    std::size_t bytes = 1;  ///< at least one, so that a reader always gets on
    bool valid = false;     ///< overlong forms, surrogates and stray bytes are not
};

/// The first character of `text`, which must not be empty.
[[nodiscard]] Utf8Character next_character(std::string_view text);

/// C0, C1, delete, and the marks that turn the direction of text.
[[nodiscard]] bool is_control(char32_t code);

/// What stands for a character that HTML and XML give a meaning: "&lt;". Empty for any other.
[[nodiscard]] std::string_view markup_entity(char32_t code);

/// Columns of a terminal: two for East Asian wide characters, none for combining ones, else one.
[[nodiscard]] std::size_t columns_of(char32_t code);

/// The first `most` characters of `text`, "…" in place of the rest when there is any.
[[nodiscard]] std::string shortened(std::string_view text, std::size_t most);

}  // namespace afterload::runner
