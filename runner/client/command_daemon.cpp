#include "runner/client/daemon_client.hpp"
#include "runner/client/daemon_refusal.hpp"
#include "runner/client/event_text.hpp"
#include "runner/client/follow_entry.hpp"
#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"

#include <fmt/format.h>

#include <iostream>
#include <optional>
#include <string>

namespace afterload::runner {
namespace {

/// The first entry that waits for a person to confirm this serial.
std::optional<std::string> unconfirmed(const Json& queue, const std::string& serial) {
    for (const Json& entry : queue.value("entries", Json::array())) {
        if (entry.value("state", "") == "unconfirmed" && entry.value("serial", "") == serial) {
            return entry.value("id", "");
        }
    }
    return std::nullopt;
}

int confirm(const DaemonClient& client, const std::string& serial, const OutputOptions& output) {
    const auto queue = client.ask_json("GET", "/v1/queue");
    if (!queue) {
        return refuse(output, queue.error());
    }
    const auto id = unconfirmed(*queue, serial);
    if (!id) {
        return refuse(output,
                      "no run in the queue waits for serial " + serial +
                          "; `afterload status` shows which do",
                      exit_usage);
    }
    const auto done = client.ask_json("POST", "/v1/queue/" + percent_encoded(*id) + "/confirm",
                                      Json{{"serial", serial}});
    if (!done) {
        return refuse(output, done.error());
    }
    print(output.json ? json_line(*done) + "\n"
                      : fmt::format("{}: serial {} is wired up; the run may begin\n", *id, serial));
    return exit_pass;
}

}  // namespace

int status(const StatusOptions& command, const OutputOptions& output) {
    const DaemonClient client{command.socket};
    const auto state = client.ask_json("GET", "/v1/status");
    if (!state) {
        return refuse(output, state.error());
    }
    const auto queue = client.ask_json("GET", "/v1/queue");
    if (!queue) {
        return refuse(output, queue.error());
    }
    if (output.json) {
        Json document = *state;
        document["entries"] = queue->value("entries", Json::array());
        print(json_line(document) + "\n");
    } else {
        print(status_text(*state, *queue, output_terminal(output)));
    }
    return exit_pass;
}

int watch(const WatchOptions& command, const OutputOptions& output) {
    FollowSettings settings;
    settings.entry = command.entry;
    settings.since = command.since;
    return follow_events(DaemonClient{command.socket}, settings, output);
}

int answer(const AnswerOptions& command, const OutputOptions& output) {
    const DaemonClient client{command.socket};
    if (!command.serial.empty()) {
        return confirm(client, command.serial, output);
    }
    const auto state = client.ask_json("GET", "/v1/status");
    if (!state) {
        return refuse(output, state.error());
    }
    const Json prompt = state->value("prompt", Json{});
    if (!prompt.is_object()) {
        return refuse(output, "no prompt waits for an answer", exit_usage);
    }
    auto given = command.word.empty() && command.text.empty()
                     ? asked_at_terminal(client, prompt, output_terminal(output))
                     : std::optional{
                           TypedAnswer{command.word.empty() ? "done" : command.word, command.text}};
    if (!given) {
        return refuse(output, "no answer came; the prompt still waits", exit_usage);
    }
    const auto done = client.ask_json(
        "POST", "/v1/prompt",
        Json{{"prompt", prompt.at("prompt")}, {"answer", given->word}, {"text", given->text}});
    if (!done) {
        return refuse(output, done.error());
    }
    print(output.json
              ? json_line(*done) + "\n"
              : fmt::format("prompt {}: {}\n", prompt.at("prompt").get<int>(), given->word));
    return exit_pass;
}

int cancel(const CancelOptions& command, const OutputOptions& output) {
    const auto done = DaemonClient{command.socket}.ask_json(
        "DELETE", "/v1/queue/" + percent_encoded(command.entry));
    if (!done) {
        return refuse(output, done.error());
    }
    print(output.json ? json_line(*done) + "\n" : command.entry + ": cancelled\n");
    return exit_pass;
}

}  // namespace afterload::runner
