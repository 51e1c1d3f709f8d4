/// The first page's table, for the customer: what came in beside what goes out, six to ten rows,
/// one plain name and one plain condition each, the value of the weaker channel.
#pragma once

#include "runner/compare/run_comparison.hpp"
#include "runner/papers/figure_rows.hpp"
#include "runner/papers/html_text.hpp"

#include <string>
#include <vector>

namespace afterload::runner {

/// A row of the table: a rated figure of the run, with the channel that stands nearer to its limit
/// in each of the two.
struct BeforeRow {
    const FigureRow* row = nullptr;        ///< of the run
    const ScoredFigure* after = nullptr;   ///< its weaker channel
    const ScoredFigure* before = nullptr;  ///< that of the earlier run; null: not tested then
    bool other_conditions = false;         ///< measured then, but not alike
    std::string change;                    ///< "better", "no change"; empty where it is not told
};

/// How many rows the page has room for; what does not plainly meet, or did not before, stays even
/// beyond that.
inline constexpr std::size_t rows_of_first_page = 10;

/// The rows in the order of the page: power, distortion, bass and treble, left against right,
/// noise, offset, record player. `groups` are those of the later run, which the rows point into.
/// `left_out` gets how many rated rows have no place, `left_out_met` how many of them meet.
[[nodiscard]] std::vector<BeforeRow> before_rows(const RunComparison& comparison,
                                                 const std::vector<RowGroup>& groups, int& left_out,
                                                 int& left_out_met);

/// A value as the customer reads it: no uncertainty, two digits of distortion and power, one
/// decimal of decibels, and never rounded onto or across the limit.
[[nodiscard]] std::string customer_value(const ScoredFigure& entry, const RatedFigure* rating);

/// The unit that value and limit share.
[[nodiscard]] ShownUnit customer_unit(const ScoredFigure& entry, const RatedFigure* rating);

/// "at least 40 W", "at most 0.05 %", "± 1 dB"; `shown` is in the unit of `symbol`.
[[nodiscard]] std::string limit_words(const Limit& shown, const std::string& symbol);

/// "meets", "meets, narrowly", "borderline", "does not meet", "could not be decided", "no rating to
/// compare".
[[nodiscard]] std::string customer_word(analysis::VerdictKind kind);

/// The table with its note; nothing where no rated figure stands in both.
void put_before_table(Html& html, const RunComparison& comparison);

}  // namespace afterload::runner
