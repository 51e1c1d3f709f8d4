#include "runner/commands.hpp"
#include "runner/compare/comparison_json.hpp"
#include "runner/compare/comparison_text.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/finished_run.hpp"
#include "runner/record/folder_check.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <utility>
#include <vector>

namespace afterload::runner {

int compare(const CompareOptions& command, const OutputOptions& output) {
    std::vector<ComparedRun> runs;
    std::vector<std::string> unreadable;
    for (const std::string& path : command.runs) {
        auto run = read_finished_run(path);
        if (!run) {
            unreadable.push_back(run.error());
            continue;
        }
        ComparedRun entry{path, std::move(run->document), {}, {}};
        for (const FolderFault& fault : faults_of_folder(run->folder, entry.document)) {
            entry.wrong.push_back(fault.text());
            if (fault.step) {
                entry.damaged_steps.push_back(*fault.step);
            }
        }
        runs.push_back(std::move(entry));
    }
    if (runs.size() < 2) {
        const std::string why = unreadable.empty() ? "two runs are needed to compare"
                                                   : fmt::format("{}", fmt::join(unreadable, "\n"));
        return refuse(output, why, exit_bad_input);
    }
    for (std::size_t i = 0; i < runs.size(); ++i) {
        for (std::size_t j = 0; j < i; ++j) {
            if (!runs[i].document.id.empty() && runs[i].document.id == runs[j].document.id) {
                return refuse(output,
                              fmt::format("{} and {} are one run: it repeats nothing", runs[j].path,
                                          runs[i].path),
                              exit_usage);
            }
        }
    }
    for (const ComparedRun& run : runs) {
        const std::string unlike = other_unit(runs.front().document, run.document);
        if (!unlike.empty() && !command.other_units) {
            return refuse(output,
                          fmt::format("{} and {} are runs of different units: {}; --other-units "
                                      "compares them all the same",
                                      runs.front().path, run.path, unlike),
                          exit_usage);
        }
    }
    std::vector<const RunDocument*> all;
    for (const ComparedRun& run : runs) {
        all.push_back(&run.document);
    }
    std::vector<RunComparison> comparisons;
    for (std::size_t i = 1; i < runs.size(); ++i) {
        comparisons.push_back(compared(runs.front().document, runs[i].document, all));
    }
    print(output.json ? json_line(comparison_json(comparisons, runs, unreadable)) + "\n"
                      : comparison_text(comparisons, runs, unreadable, output_terminal(output)));
    return exit_status(comparisons, runs, unreadable);
}

}  // namespace afterload::runner
