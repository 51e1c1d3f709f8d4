#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/record/history_text.hpp"
#include "runner/record/record_to_read.hpp"
#include "runner/record/unit_history.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <set>

namespace afterload::runner {
namespace {

/// What was found stands with the last run of a ticket, seldom with the one that failed.
void add_what_was_found(RunRecord& record, std::vector<WrittenThen>& elsewhere) {
    for (WrittenThen& other : elsewhere) {
        if (other.job.empty()) {
            continue;
        }
        RunQuery query;
        query.job = other.job;
        query.serial = other.serial;
        query.most = 1;
        const auto last = record.find(query);
        if (last && !last->empty() && !last->front().words.empty()) {
            other.lines = lines_of(last->front().words);
        }
    }
}

}  // namespace

int history(const HistoryOptions& command, const OutputOptions& output) {
    auto record = record_to_read(command.runs, command.socket, output);
    if (!record) {
        return record.error();
    }
    const auto own = record->readings({command.model, command.serial, {}, false});
    if (!own) {
        return refuse(output, own.error(), exit_bad_input);
    }
    const Terminal terminal = error_terminal(output);
    if (own->runs.empty()) {
        return refuse(output,
                      "no run of a unit with the serial “" +
                          for_terminal(command.serial, terminal) + "” in the record",
                      exit_no_input);
    }
    std::set<std::string> models;
    for (const auto& [number, run] : own->runs) {
        models.insert(for_terminal(run.model, terminal));
    }
    if (models.size() > 1) {
        return refuse(output,
                      fmt::format("units of several models have that serial ({}): say which with "
                                  "--model",
                                  fmt::join(models, ", ")),
                      exit_usage);
    }
    const auto failed = record->readings({own->runs.begin()->second.model, {}, {}, true});
    if (!failed) {
        return refuse(output, failed.error(), exit_bad_input);
    }
    UnitHistory found = unit_history(*own, *failed);
    add_what_was_found(*record, found.elsewhere);
    print(output.json ? json_line(history_json(found)) + "\n"
                      : history_text(found, output_terminal(output)));
    return exit_pass;
}

}  // namespace afterload::runner
