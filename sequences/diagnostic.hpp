/// Mistakes in a file a person wrote: each with its place, the line, a caret, and what to write.
///
/// All mistakes of a file are collected before any is shown. Text taken from a file is escaped
/// before it is shown, so that a hostile file cannot forge lines on a terminal.
#pragma once

#include "sequences/place.hpp"
#include "sequences/utf8.hpp"

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::sequences {

/// One mistake. `lines` holds the line it stands on, last, and up to two lines before it.
struct Mistake {
    struct Line {
        int number = 0;
        std::string text;  ///< as in the file, not escaped; of a long line the part that matters
        int skipped = 0;   ///< characters of the line before `text`
    };
    Place place;
    int width = 1;            ///< characters underlined
    std::string what;         ///< "8 has no unit: is it a load in ohm?"
    std::string advice;       ///< beside the caret: "write 8 ohm"; may be empty
    std::vector<Line> lines;  ///< empty when the mistake stands in no line
};

/// How mistakes are printed. Styles and colour have one switch; the text is the same to the letter.
struct MistakeStyle {
    bool utf8 = true;     ///< false: plain quotes, no ellipsis character
    bool colour = false;  ///< place and caret in magenta
};

/// The mistakes of one file, in the order of their places once sorted().
struct Diagnostics {
    /// More are counted in `unshown` and not kept: a hostile file costs bounded memory.
    static constexpr std::size_t most = 100;

    std::string path;
    std::vector<Mistake> mistakes;
    std::size_t unshown = 0;

    [[nodiscard]] bool empty() const { return mistakes.empty() && unshown == 0; }
    [[nodiscard]] std::size_t count() const { return mistakes.size() + unshown; }
    void add(Mistake mistake);
    /// Puts the mistakes in the order of the file; equal places keep their order.
    void sort();
};

/// A mistake of a file as a whole, which stands in no line of it.
[[nodiscard]] Diagnostics mistake_of_file(std::string path, std::string what);

/// The text of a file cut into lines, for the excerpts of mistakes. Borrows the text.
class SourceText {
public:
    explicit SourceText(std::string_view text);
    [[nodiscard]] std::string_view line(int number) const;  ///< empty outside the text
    [[nodiscard]] int lines() const { return static_cast<int>(starts_.size()); }
    /// The place of a byte of the text.
    [[nodiscard]] Place place_of(std::size_t byte) const;
    /// The place for a line and a count of bytes into it, both from 0 (what yaml-cpp reports).
    [[nodiscard]] Place place_of(int line_from_0, int byte_from_0) const;
    /// A mistake with its excerpt; `first_context` is the earliest line that may be shown before
    /// it.
    [[nodiscard]] Mistake mistake(Place place, int width, std::string what, std::string advice,
                                  int first_context) const;

private:
    [[nodiscard]] int characters_before(std::size_t byte) const;

    std::string_view text_;
    std::vector<int> characters_before_;  ///< at every checkpoint, so that a place costs little
    std::vector<std::size_t> starts_;
};

/// Every mistake as a block of lines, each ending in a newline:
///
///     hollinfay-h40.rating.yaml:14:15: 8 has no unit: is it a load in ohm?
///        13 |     at_least: 40 W
///        14 |     load:     8
///           |               ^ write 8 ohm
[[nodiscard]] std::string text(const Diagnostics& diagnostics, const MistakeStyle& style = {});

/// The last line, 80 columns wide, without its newline: "2 mistakes in 1 file; nothing was driven.
/// ... exit status 65".
[[nodiscard]] std::string count_line(std::size_t mistakes, std::size_t files, int exit_status);

/// Text of a file made fit for a terminal: control characters, bidirectional marks and bytes that
/// are not UTF-8 as \x1b, \u202e, \xff; tabulators as one space.
[[nodiscard]] std::string escaped(std::string_view text);

/// The known word nearest to `word` by edits (one letter more, less, other, or two swapped), or an
/// empty view when none is near enough: at most a third of the letters, at least one.
[[nodiscard]] std::string_view nearest(std::string_view word,
                                       const std::vector<std::string_view>& known);

}  // namespace afterload::sequences
