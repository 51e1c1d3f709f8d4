/// Following the daemon's events on a terminal, over its restarts, and answering its prompts there.
#pragma once

#include "runner/client/daemon_client.hpp"
#include "runner/options.hpp"
#include "runner/papers/terminal_text.hpp"

#include <cstdint>
#include <optional>
#include <string>

namespace afterload::runner {

struct FollowSettings {
    std::string entry;                   ///< ends when this entry is over; empty: never
    std::optional<std::uint64_t> since;  ///< id of the last event that was seen
    bool answers = false;                ///< prompts are asked at this terminal
    bool silent = false;                 ///< prints nothing but what it must ask
};

/// Prints events until the entry is over; its exit status. A daemon that goes is waited for.
int follow_events(const DaemonClient& client, const FollowSettings& settings,
                  const OutputOptions& output);

/// What a person typed at a prompt.
struct TypedAnswer {
    std::string word;  ///< done, skip, stop
    std::string text;  ///< a reading, where one is due
};
/// Shows the prompt and reads one answer from the terminal; a note on the way goes to the daemon.
/// Nothing at the end of the input.
[[nodiscard]] std::optional<TypedAnswer> asked_at_terminal(const DaemonClient& client,
                                                           const Json& prompt,
                                                           const Terminal& terminal);

}  // namespace afterload::runner
