/// One figure of a run at length: value, conditions, limit, verdict and its reason, and the budget
/// line by line, largest first, with what would shrink the uncertainty most.
#pragma once

#include "runner/papers/beside.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/papers/terminal_text.hpp"

#include <string>

namespace afterload::runner {

/// What persons said of the figure stands beside its verdict.
[[nodiscard]] std::string figure_text(const RunDocument& run, const ScoredFigure& entry,
                                      const Terminal& terminal, const Beside& beside = {});

}  // namespace afterload::runner
