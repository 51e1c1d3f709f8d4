/// The gain of a path as an earlier step of the run has measured it.
#pragma once

#include "analysis/figure.hpp"
#include "runner/papers/run_document.hpp"

#include <optional>
#include <span>

namespace afterload::runner {

/// Near 1 kHz, of `channel`, between the same input and output with the controls where `conditions`
/// have them. The last of `done` counts. Empty where no step has measured it, or none could.
[[nodiscard]] std::optional<Figure> known_gain(std::span<const StepResult> done, int channel,
                                               const Conditions& conditions);

}  // namespace afterload::runner
