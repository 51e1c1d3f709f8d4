#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/finished_run.hpp"
#include "runner/papers.hpp"
#include "runner/papers/figures_csv.hpp"
#include "runner/papers/junit_xml.hpp"
#include "runner/papers/open_metrics.hpp"
#include "runner/remarks/remark_file.hpp"

#include <string>

namespace afterload::runner {

int export_run(const ExportOptions& command, const OutputOptions& output) {
    // Why it is refused is a line, also where the run would be JSON.
    const auto run = read_finished_run(command.run);
    if (!run) {
        return refuse(output, run.error(), exit_bad_input);
    }
    const StoredBeside stored = stored_beside(run->folder, run->document);
    for (const std::string& wrong : stored.wrong) {
        print_error(wrong + "\n");
    }
    switch (command.format) {
        case ExportOptions::Format::json:
            print(json_line(run_with_remarks(run->document, stored.shown())) + "\n");
            break;
        case ExportOptions::Format::csv:
            print(figures_csv(run->document));
            break;
        case ExportOptions::Format::junit:
            print(junit_xml(run->document, stored.shown()));
            break;
        case ExportOptions::Format::openmetrics:
            print(open_metrics(run->document));
            break;
    }
    return exit_pass;
}

}  // namespace afterload::runner
