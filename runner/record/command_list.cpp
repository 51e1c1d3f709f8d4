#include "runner/client/daemon_client.hpp"
#include "runner/client/daemon_refusal.hpp"
#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/record/run_record.hpp"
#include "runner/record/run_table.hpp"

#include <fmt/format.h>
#include <tl/expected.hpp>

#include <filesystem>
#include <string>
#include <system_error>
#include <utility>

namespace afterload::runner {
namespace {

/// The record of the folder `runs`, or the status to leave with, why being said.
tl::expected<RunRecord, int> open_record(const std::string& runs, const OutputOptions& output) {
    std::error_code error;
    if (!std::filesystem::is_directory(runs, error)) {
        return tl::unexpected(
            refuse(output, runs + ": is no folder; say with --runs where the runs' folders are",
                   exit_no_input));
    }
    auto record = RunRecord::open(runs);
    if (!record) {
        return tl::unexpected(refuse(output, record.error(), exit_cannot_write));
    }
    return *std::move(record);
}

/// What a person should know of the folders, on standard error.
void tell(const FoundRuns& done) {
    for (const std::string& id : done.interrupted) {
        print_error(id + ": was interrupted; what it measured until then is kept\n");
    }
    for (const std::string& line : done.unreadable) {
        print_error(line + "\n");
    }
}

/// The daemon's own list, which it alone brings up to date.
int list_of_daemon(const DaemonClient& client, const RunQuery& query, const OutputOptions& output) {
    std::string target = "/v1/runs?most=" + std::to_string(query.most);
    for (const auto& [key, value] :
         {std::pair{"text", &query.text}, std::pair{"serial", &query.serial},
          std::pair{"model", &query.model}, std::pair{"job", &query.job},
          std::pair{"verdict", &query.verdict}, std::pair{"state", &query.state},
          std::pair{"since", &query.since}}) {
        target += value->empty() ? "" : std::string{"&"} + key + "=" + percent_encoded(*value);
    }
    const auto answer = client.ask_json("GET", target);
    if (!answer) {
        return refuse(output, answer.error());
    }
    if (output.json) {
        print(json_line(*answer) + "\n");
        return exit_pass;
    }
    const auto runs = runs_of_json(*answer);
    if (!runs) {
        return refuse(output, "afterloadd: " + runs.error(), exit_bad_input);
    }
    print(runs->empty() ? std::string{"no such run in the record of afterloadd\n"}
                        : run_table(*runs, output_terminal(output)));
    return exit_pass;
}

}  // namespace

int list_runs(const ListOptions& command, const OutputOptions& output) {
    if (command.runs.empty()) {
        const DaemonClient client{command.socket};
        if (answers(client)) {
            return list_of_daemon(client, command.query, output);
        }
    }
    const std::string runs = command.runs.empty() ? "runs" : command.runs;
    auto record = open_record(runs, output);
    if (!record) {
        return record.error();
    }
    const auto refreshed = record->refresh();
    if (!refreshed) {
        return refuse(output, refreshed.error(), exit_cannot_write);
    }
    const auto found = record->find(command.query);
    if (!found) {
        return refuse(output, found.error(), exit_bad_input);
    }
    if (output.json) {
        print(json_line(runs_json(*found)) + "\n");
        return exit_pass;
    }
    tell(*refreshed);
    print(found->empty() ? "no such run in " + runs + "\n"
                         : run_table(*found, output_terminal(output)));
    return exit_pass;
}

int reindex(const ReindexOptions& command, const OutputOptions& output) {
    auto record = open_record(command.runs, output);
    if (!record) {
        return record.error();
    }
    const auto done = record->rebuild();
    if (!done) {
        return refuse(output, done.error(), exit_cannot_write);
    }
    if (output.json) {
        Json document;
        document["schema"] = "afterload/reindex/1";
        document["indexed"] = done->runs.size();
        document["interrupted"] = done->interrupted;
        document["unreadable"] = done->unreadable;
        print(json_line(document) + "\n");
        return exit_pass;
    }
    tell(*done);
    print(fmt::format("{} run{} indexed, {} folder{} could not be read\n", done->runs.size(),
                      done->runs.size() == 1 ? "" : "s", done->unreadable.size(),
                      done->unreadable.size() == 1 ? "" : "s"));
    return exit_pass;
}

}  // namespace afterload::runner
