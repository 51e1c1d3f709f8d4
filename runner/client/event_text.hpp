/// An event of the daemon as a line for a person.
#pragma once

#include "runner/papers/json_text.hpp"
#include "runner/papers/terminal_text.hpp"

#include <string>

namespace afterload::runner {

/// "16:05:31 step 4 of 15 begins: THD 1 W, 1 kHz", with its newline; a prompt as its whole block.
/// Empty for what a person need not read.
[[nodiscard]] std::string event_text(const Json& event, const Terminal& terminal);

/// The state of the daemon, in a few lines.
[[nodiscard]] std::string status_text(const Json& status, const Json& queue,
                                      const Terminal& terminal);

}  // namespace afterload::runner
