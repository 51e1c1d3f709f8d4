#include "runner/client/submit_run.hpp"

#include "runner/client/daemon_client.hpp"
#include "runner/client/daemon_refusal.hpp"
#include "runner/client/follow_entry.hpp"
#include "runner/console.hpp"
#include "runner/daemon/submission.hpp"
#include "runner/exit_status.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/papers/sheet.hpp"
#include "runner/soak/soak_file.hpp"

#include <fmt/format.h>

#include <string>
#include <unistd.h>
#include <utility>
#include <variant>

namespace afterload::runner {
namespace {

/// The sheet of the entry's run, or why there is none.
int show_outcome(const DaemonClient& client, const std::string& id, int status,
                 const OutputOptions& output) {
    const auto entry = client.ask_json("GET", "/v1/queue/" + id);
    if (!entry) {
        return refuse(output, entry.error());
    }
    const std::string run = entry->value("run", "");
    if (run.empty()) {
        return refuse(
            output,
            fmt::format("{} {}: {}", id, entry->value("state", ""), entry->value("why", "")),
            status);
    }
    const auto text = client.ask("GET", "/v1/runs/" + percent_encoded(run));
    if (!text) {
        return refuse(output, text.error());
    }
    const auto document = read_run_json(*text);
    if (!document) {
        return refuse(output, run + ": " + document.error(), exit_bad_input);
    }
    const auto state = client.ask_json("GET", "/v1/status");
    const std::string folder = (state ? state->value("runs", "runs") : "runs") + "/" + run;
    print(output.json ? json_line(run_json(*document)) + "\n"
                      : sheet(*document, folder + "/report.html", output_terminal(output)));
    return status;
}

}  // namespace

int submit_run(const RunOptions& command, const OutputOptions& output) {
    auto request = read_run_request(command);
    if (const auto* missing = std::get_if<MissingInput>(&request)) {
        return refuse(output, missing->what, exit_no_input);
    }
    for (const InputText& file : std::get<RunRequest>(request).files) {
        if (file.role == stimulus_role && file.text.size() > longest_sound) {
            return refuse(output,
                          fmt::format("{}: is {} MiB, and afterloadd takes sound files up to {} "
                                      "MiB: a shorter piece, or FLAC, does as well",
                                      file.path, file.text.size() >> 20U, longest_sound >> 20U),
                          exit_bad_input);
        }
    }
    const DaemonClient client{command.socket};
    const auto before = client.ask_json("GET", "/v1/status");
    if (!before) {
        ClientFailure failure = before.error();
        failure.why = "run without --bench hands the run to afterloadd: " + failure.why;
        return refuse(output, failure);
    }
    const Submission submission{std::get<RunRequest>(std::move(request)), command.assume_prompts};
    const auto entry = client.ask_json("POST", "/v1/queue", submission_json(submission));
    if (!entry) {
        return refuse(output, entry.error());
    }
    const std::string id = entry->value("id", "");
    if (command.no_wait) {
        print(output.json ? json_line(*entry) + "\n" : id + "\n");
        return exit_pass;
    }
    FollowSettings settings;
    settings.entry = id;
    settings.since = before->value("last_event", std::uint64_t{0});
    settings.answers = isatty(STDIN_FILENO) != 0;
    settings.silent = output.json || output.quiet;
    OutputOptions lines = output;
    lines.json = false;
    const int status = follow_events(client, settings, lines);
    return show_outcome(client, id, status, output);
}

}  // namespace afterload::runner
