/// The history of a unit on one screen, and as JSON.
#pragma once

#include "runner/papers/json_text.hpp"
#include "runner/papers/terminal_text.hpp"
#include "runner/record/unit_history.hpp"

#include <string>

namespace afterload::runner {

/// At most 24 lines, however long the history is; what has no room is counted.
[[nodiscard]] std::string history_text(const UnitHistory& history, const Terminal& terminal);

/// Schema "afterload/history/1": all of it.
[[nodiscard]] Json history_json(const UnitHistory& history);

}  // namespace afterload::runner
