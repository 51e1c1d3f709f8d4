#include "runner/client/daemon_client.hpp"
#include "runner/client/daemon_refusal.hpp"
#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/job_label.hpp"
#include "runner/record/record_to_read.hpp"
#include "runner/record/run_table.hpp"

#include <fmt/format.h>
#include <tl/expected.hpp>

#include <filesystem>
#include <string>
#include <system_error>
#include <utility>

namespace afterload::runner {
namespace {

/// The daemon's own list, which it alone brings up to date.
int list_of_daemon(const DaemonClient& client, const RunQuery& query, const OutputOptions& output) {
    std::string target = "/v1/runs?most=" + std::to_string(query.most);
    for (const auto& [key, value] :
         {std::pair{"text", &query.text}, std::pair{"serial", &query.serial},
          std::pair{"model", &query.model}, std::pair{"job", &query.job},
          std::pair{"verdict", &query.verdict}, std::pair{"state", &query.state},
          std::pair{"since", &query.since}, std::pair{"until", &query.until},
          std::pair{"stage", &query.stage}, std::pair{"failed", &query.failed},
          std::pair{"said", &query.said}}) {
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
    RunQuery query = command.query;
    query.job = job_label(query.job);
    if (command.runs.empty()) {
        const DaemonClient client{command.socket};
        if (answers(client)) {
            return list_of_daemon(client, query, output);
        }
    }
    const std::string runs = command.runs.empty() ? "runs" : command.runs;
    auto record = record_to_read(runs, command.socket, output);
    if (!record) {
        return record.error();
    }
    const auto found = record->find(query);
    if (!found) {
        return refuse(output, found.error(), exit_bad_input);
    }
    if (output.json) {
        print(json_line(runs_json(*found)) + "\n");
        return exit_pass;
    }
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
        document["indexed"] = done->read;
        document["interrupted"] = done->interrupted;
        document["unreadable"] = done->unreadable;
        print(json_line(document) + "\n");
        return exit_pass;
    }
    tell(*done);
    print(fmt::format("{} run{} indexed, {} folder{} could not be read\n", done->read,
                      done->read == 1 ? "" : "s", done->unreadable.size(),
                      done->unreadable.size() == 1 ? "" : "s"));
    return exit_pass;
}

}  // namespace afterload::runner
