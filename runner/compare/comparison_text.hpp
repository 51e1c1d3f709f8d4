/// Compared runs as a terminal shows them: a table in the look of the result sheet.
#pragma once

#include "runner/compare/comparison_json.hpp"
#include "runner/papers/terminal_text.hpp"

#include <string>
#include <vector>

namespace afterload::runner {

/// All comparisons, one table each, with what is wrong with a folder above and the counts below.
[[nodiscard]] std::string comparison_text(const std::vector<RunComparison>& comparisons,
                                          const std::vector<ComparedRun>& runs,
                                          const std::vector<std::string>& unreadable,
                                          const Terminal& terminal);

}  // namespace afterload::runner
