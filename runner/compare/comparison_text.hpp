/// Compared runs as a terminal shows them: a table in the look of the result sheet.
#pragma once

#include "runner/compare/comparison_json.hpp"
#include "runner/papers/terminal_text.hpp"

#include <string>
#include <vector>

namespace afterload::runner {

/// The word of one difference: "better", "worse", "changed", "no change", "not resolvable".
[[nodiscard]] std::string change_word(const analysis::Difference& difference);

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

/// All comparisons, one table each, with what is wrong with a folder above and the counts below.
[[nodiscard]] std::string comparison_text(const std::vector<RunComparison>& comparisons,
                                          const std::vector<ComparedRun>& runs,
                                          const std::vector<std::string>& unreadable,
                                          const Terminal& terminal);

}  // namespace afterload::runner
