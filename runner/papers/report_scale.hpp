/// The small picture that carries every verdict: the limit is a line, the value a point, its
/// uncertainty a bar; right of the line is inside, left of it outside.
///
/// One axis for all rows of the report, so that the limit lines join down the page: the margin in
/// dB at x = sign(m) log10(1 + |m| / 0.5 dB), from -10 to +30 dB.
#pragma once

#include "runner/papers/figure_rows.hpp"
#include "runner/papers/html_text.hpp"

#include <optional>
#include <string>

namespace afterload::runner {

/// Place of a margin on the axis: 0 at -10 dB, 1 at +30 dB, clamped.
[[nodiscard]] double margin_place(double margin_db);

/// Points, squares, guides and hatching, once a page: a hidden drawing that the scales refer to.
void put_scale_symbols(Html& html);

/// The axis in the head of the column.
void put_scale_head(Html& html);

/// The scale of one row: left above (disc), right below (open square). Rows without a limit get a
/// pale line, those not comparable a dotted one.
void put_margin_scale(Html& html, const FigureRow& row);

/// The scale of the first page: a grey ring where it stood before, a disc where it stands now,
/// joined by a hair line. Margins in dB, inside positive; absent: not measured, or not on this
/// axis.
void put_before_scale(Html& html, const std::optional<double>& before,
                      const std::optional<double>& after);

/// The mark before the verdict's word; hidden from a reader's program, the word is not.
void put_mark(Html& html, analysis::VerdictKind kind);

/// What the scale shows, in words: "left 13.3 dB inside the limit, 12.9 to 13.7; right ...".
[[nodiscard]] std::string scale_words(const FigureRow& row);

}  // namespace afterload::runner
