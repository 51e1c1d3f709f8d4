/// The morning after a soak on one screen: it ran, or it stopped then, and why.
#pragma once

#include "runner/papers/run_document.hpp"
#include "runner/papers/terminal_text.hpp"

#include <string>
#include <string_view>

namespace afterload::runner {

/// First line: finished, stopped or killed, and when. Then either what was watched and how it went,
/// or why it ended, what was done and what is kept; then what a person should look at.
[[nodiscard]] std::string soak_summary(const RunDocument& run, const StepResult& step,
                                       const Terminal& terminal);

/// Whose an event is, for a person: "rig, not the unit", "unit or its lead", "mains".
[[nodiscard]] std::string whose(const RunEvent& event);

/// What happened, in some words: "level fell by 1.2 dB, left".
[[nodiscard]] std::string event_words(const RunEvent& event);

}  // namespace afterload::runner
