/// A planned run as a person reads it, and as JSON.
#pragma once

#include "runner/papers/json_text.hpp"
#include "runner/papers/terminal_text.hpp"
#include "runner/plan/planned_run.hpp"

#include <string>

namespace afterload::runner {

/// Steps with what they play and answer, their bench time and heat; then prompts, time and loads.
[[nodiscard]] std::string plan_text(const PlannedRun& plan, const Terminal& terminal);

/// One document, `afterload/plan/1`; seconds, joules, watts, ohms.
[[nodiscard]] Json plan_json(const PlannedRun& plan);

}  // namespace afterload::runner
