#include "runner/client/follow_entry.hpp"

#include "runner/client/daemon_refusal.hpp"
#include "runner/client/event_text.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"

#include <chrono>
#include <iostream>
#include <thread>

namespace afterload::runner {
namespace {

bool is_over(const std::string& state) {
    return state == "done" || state == "refused" || state == "cancelled" || state == "interrupted";
}

/// The status to leave with, once the entry is over.
std::optional<int> end_of(const Json& entry) {
    const std::string state = entry.value("state", "");
    if (!is_over(state)) {
        return std::nullopt;
    }
    if (state == "done" || state == "refused") {
        return entry.value("exit_status", exit_stopped);
    }
    return exit_stopped;
}

void answer_here(const DaemonClient& client, const Json& prompt, const OutputOptions& output) {
    const auto given = asked_at_terminal(client, prompt, error_terminal(output));
    if (!given) {
        return;  // it still waits: another terminal can answer
    }
    const auto taken = client.ask_json(
        "POST", "/v1/prompt",
        Json{{"prompt", prompt.at("prompt")}, {"answer", given->word}, {"text", given->text}});
    if (!taken) {
        print_error(taken.error().why + "\n");  // somebody else was quicker
    }
}

}  // namespace

std::optional<TypedAnswer> asked_at_terminal(const DaemonClient& client, const Json& prompt,
                                             const Terminal& terminal) {
    print_error(event_text(Json{{"event", "prompt"}, {"data", prompt}}, terminal));
    std::string line;
    while (std::getline(std::cin, line)) {
        if (prompt.value("typed", false)) {
            return TypedAnswer{"done", line};
        }
        if (line.empty()) {
            return TypedAnswer{"done", {}};
        }
        if (line == "s" || line == "q") {
            return TypedAnswer{line == "s" ? "skip" : "stop", {}};
        }
        if (line.starts_with("n ")) {
            const auto noted = client.ask_json("POST", "/v1/notes", Json{{"text", line.substr(2)}});
            print_error(noted ? "noted\n" : noted.error().why + "\n");
            continue;
        }
        print_error("Enter for done, s to skip, n TEXT for a note, q to stop\n");
    }
    return std::nullopt;
}

int follow_events(const DaemonClient& client, const FollowSettings& settings,
                  const OutputOptions& output) {
    std::optional<std::uint64_t> last = settings.since;
    std::optional<int> ended;
    const auto take = [&](const Json& event) {
        const std::string kind = event.value("event", "");
        const Json data = event.value("data", Json::object());
        if (kind == "prompt" && settings.answers) {
            answer_here(client, data, output);
        } else if (!settings.silent) {
            print(output.json ? json_line(event) + "\n"
                              : event_text(event, output_terminal(output)));
        }
        if (kind == "queue" && !settings.entry.empty() && data.value("id", "") == settings.entry) {
            ended = end_of(data);
        }
        return !ended.has_value();
    };
    if (!settings.entry.empty() && !last) {
        // It may have ended before anybody followed.
        const auto entry = client.ask_json("GET", "/v1/queue/" + percent_encoded(settings.entry));
        if (!entry) {
            return refuse(output, entry.error());
        }
        if (const auto end = end_of(*entry)) {
            return *end;
        }
    }
    if (!last) {
        // From now on, over a restart of the daemon too.
        const auto state = client.ask_json("GET", "/v1/status");
        if (!state) {
            return refuse(output, state.error());
        }
        last = state->value("last_event", std::uint64_t{0});
    }
    bool was_there = false;
    while (true) {
        const auto followed = client.follow(last, take);
        if (ended) {
            return *ended;
        }
        if (!followed && !was_there) {
            return refuse(output, followed.error());
        }
        if (followed) {
            print_error("afterloadd is gone; waiting for it to come back\n");
        }
        was_there = true;
        std::this_thread::sleep_for(std::chrono::milliseconds{500});
    }
}

}  // namespace afterload::runner
