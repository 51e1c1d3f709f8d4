/// Lines of a terminal: columns counted in characters, styles with one switch, a fallback to ASCII.
///
/// The text is the same to the letter with styles on or off. Text that comes from outside loses its
/// control characters, so that nothing in a file can move the cursor.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::runner {

struct Terminal {
    std::size_t width = 80;
    bool styled = false;  ///< escape sequences for bold, faint, underline, inverse and magenta
    bool utf8 = true;     ///< else "<=" ">=" "+-" "ohm" "u" "degC"
};

/// `act` is the one colour: what a person acts on.
enum class Emphasis { plain, bold, faint, underline, inverse, act };

/// `text` without control characters and broken UTF-8, and in ASCII where the terminal needs it.
[[nodiscard]] std::string for_terminal(std::string_view text, const Terminal& terminal);

/// Columns that `text` takes (wide characters two, combining ones none).
[[nodiscard]] std::size_t columns(std::string_view text);

/// `text` cut to at most `most` columns, "…" at the cut.
[[nodiscard]] std::string cut(std::string_view text, std::size_t most, const Terminal& terminal);

class TextLine {
public:
    explicit TextLine(const Terminal& terminal) : terminal_{&terminal} {}

    TextLine& put(std::string_view text, Emphasis emphasis = Emphasis::plain);
    /// Blanks up to `column`; at least one blank when something already stands there.
    TextLine& to(std::size_t column);
    /// `text` so that it ends before `column`; shifted right when there is no room.
    TextLine& ending_at(std::size_t column, std::string_view text,
                        Emphasis emphasis = Emphasis::plain);
    [[nodiscard]] std::size_t width() const { return width_; }
    /// The line with a newline, without trailing blanks.
    [[nodiscard]] std::string text() const;

private:
    const Terminal* terminal_;
    std::string out_;
    std::size_t width_ = 0;
    std::size_t blanks_ = 0;  ///< asked for, written only when something follows
};

/// `text` broken between words into lines of the terminal's width, the first indented by `indent`,
/// the others by `hanging`. A word longer than a line is cut into pieces.
[[nodiscard]] std::string wrapped(std::string_view text, std::size_t indent, std::size_t hanging,
                                  const Terminal& terminal, Emphasis emphasis = Emphasis::plain);

}  // namespace afterload::runner
