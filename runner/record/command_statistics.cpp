#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/record/model_statistics.hpp"
#include "runner/record/record_to_read.hpp"
#include "runner/record/statistics_text.hpp"

namespace afterload::runner {

int statistics(const StatisticsOptions& command, const OutputOptions& output) {
    auto record = record_to_read(command.runs, command.socket, output);
    if (!record) {
        return record.error();
    }
    const auto of_model = record->readings({command.model, {}, command.stage, false});
    if (!of_model) {
        return refuse(output, of_model.error(), exit_bad_input);
    }
    const Terminal terminal = error_terminal(output);
    if (of_model->runs.empty()) {
        return refuse(output,
                      "no run of a “" + for_terminal(command.model, terminal) +
                          "” in the record; afterload list shows the models",
                      exit_no_input);
    }
    FoundReadings golden;
    if (!command.golden.empty()) {
        auto found = record->readings({{}, command.golden, {}, false});
        if (!found) {
            return refuse(output, found.error(), exit_bad_input);
        }
        if (found->runs.empty()) {
            return refuse(output,
                          "no run of a golden box with the serial “" +
                              for_terminal(command.golden, terminal) + "” in the record",
                          exit_no_input);
        }
        golden = *std::move(found);
    }
    const ModelStatistics found =
        model_statistics(*of_model, golden, command.serial, command.stage);
    print(output.json ? json_line(statistics_json(found)) + "\n"
                      : statistics_text(found, output_terminal(output)));
    return exit_pass;
}

}  // namespace afterload::runner
