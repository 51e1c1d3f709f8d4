/// Text as a YAML file takes it, whatever it holds.
#pragma once

#include <string>
#include <string_view>

namespace afterload::sequences {

/// `text` as a value: plain where YAML reads plain text as the very same text, else in double
/// quotes. Control characters and marks that turn writing round become escapes, which a reader
/// turns back. `text` must be UTF-8; a byte that is not becomes U+FFFD, the character for what
/// cannot be read.
[[nodiscard]] std::string yaml_value(std::string_view text);

/// The same, in double quotes always.
[[nodiscard]] std::string yaml_quoted(std::string_view text);

/// A comment of one line with its newline, led by `indent` blanks; nothing in `text` ends the line.
[[nodiscard]] std::string yaml_comment(std::string_view text, std::size_t indent = 0);

}  // namespace afterload::sequences
