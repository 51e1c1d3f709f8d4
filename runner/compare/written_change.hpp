/// A difference in words and digits.
#pragma once

#include "runner/compare/run_comparison.hpp"

#include <string>

namespace afterload::runner {

/// The word of one difference: "better", "worse", "changed", "no change", "not resolvable".
[[nodiscard]] std::string change_word(const analysis::Difference& difference);

/// Of a row, what counts more of its two channels: "worse" before "better" before "no change";
/// empty where neither is told.
[[nodiscard]] std::string change_word(const ComparedRow& row);

/// The earlier reading alone, with its own number of decimals: "0.0441", "<0.0021".
[[nodiscard]] std::string before_text(const ComparedFigure& figure, double factor);

/// One side of a row as it is written: one unit and one number of decimals for the row.
struct WrittenChange {
    std::string before;
    std::string after;
    std::string change;    ///< with its sign; ">+0.037" for a bound; empty where there is none
    std::string expanded;  ///< U; empty for bounds
};

/// A row's unit, and the numbers of its sides.
struct WrittenComparison {
    std::string unit;
    WrittenChange left;
    WrittenChange right;
};
[[nodiscard]] WrittenComparison written(const ComparedRow& row);

}  // namespace afterload::runner
