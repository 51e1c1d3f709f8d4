#include "runner/commands.hpp"
#include "runner/compare/run_comparison.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/finished_run.hpp"
#include "runner/papers.hpp"
#include "runner/papers/figure_text.hpp"
#include "runner/papers/json_text.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/papers/sheet.hpp"
#include "runner/remarks/remark_file.hpp"
#include "runner/replay.hpp"

#include <optional>
#include <utility>

namespace afterload::runner {

int show(const ShowOptions& command, const OutputOptions& output) {
    const auto run = read_finished_run(command.run);
    if (!run) {
        return refuse(output, run.error(), exit_bad_input);
    }
    const StoredBeside stored = stored_beside(run->folder, run->document);
    for (const std::string& wrong : stored.wrong) {
        print_error(wrong + "\n");
    }
    const Beside beside = stored.shown();
    if (command.figure.empty()) {
        print(output.json ? json_line(run_with_remarks(run->document, beside)) + "\n"
                          : sheet(run->document, run->folder.path() + "/report.html",
                                  output_terminal(output), beside));
        return exit_status(run->document);
    }
    bool found = false;
    for (const StepResult& step : run->document.steps) {
        for (const ScoredFigure& scored : step.figures) {
            if (scored.id.find(command.figure) == std::string::npos) {
                continue;
            }
            found = true;
            print(output.json
                      ? json_line(scored_figure_json(scored)) + "\n"
                      : figure_text(run->document, scored, output_terminal(output), beside));
        }
    }
    if (!found) {
        return refuse(output,
                      "no figure of this run is called “" + command.figure +
                          "”; the ids stand in figures.csv",
                      exit_usage);
    }
    return exit_pass;
}

int report(const ReportOptions& command, const OutputOptions& output) {
    const auto run = read_finished_run(command.run);
    if (!run) {
        return refuse(output, run.error(), exit_bad_input);
    }
    std::optional<FinishedRun> before;
    if (!command.before.empty()) {
        auto earlier = read_finished_run(command.before);
        if (!earlier) {
            return refuse(output, earlier.error(), exit_bad_input);
        }
        if (const std::string unlike = other_unit(earlier->document, run->document);
            !unlike.empty()) {
            return refuse(output, command.before + ": is a run of another unit: " + unlike,
                          exit_usage);
        }
        const auto text = earlier->folder.read("run.json");
        const auto kept = text ? run->folder.write(before_file_name, *text)
                               : tl::expected<void, std::string>{tl::unexpected(text.error())};
        if (!kept) {
            return refuse(output, kept.error(), exit_cannot_write);
        }
        before = *std::move(earlier);
    }
    if (const auto written =
            write_papers(run->document, run->folder, before ? &before->document : nullptr);
        !written) {
        return refuse(output, written.error(), exit_cannot_write);
    }
    const std::string path = run->folder.path() + "/report.html";
    if (output.json) {
        Json document;
        document["schema"] = "afterload/report/1";
        document["report"] = path;
        print(json_line(document) + "\n");
    } else {
        print(path + "\n");
    }
    return exit_pass;
}

int replay_run(const ReplayOptions& command, const OutputOptions& output) {
    const auto run = read_finished_run(command.run);
    if (!run) {
        return refuse(output, run.error(), exit_bad_input);
    }
    const auto again = replay(run->folder, run->document);
    if (!again) {
        return refuse(output, again.error(), exit_bad_input);
    }
    const auto lines = differences(run->document, *again);
    std::size_t figures = 0;
    for (const StepResult& step : run->document.steps) {
        figures += step.figures.size();
    }
    if (output.json) {
        Json document;
        document["schema"] = "afterload/replay/1";
        document["figures"] = figures;
        document["same"] = lines.empty();
        document["differences"] = lines;
        print(json_line(document) + "\n");
    } else {
        for (const std::string& line : lines) {
            print(line + "\n");
        }
        print(std::to_string(figures) +
              (lines.empty()
                   ? " figures computed again from the stored records: the same to the last "
                     "digit\n"
                   : " figures computed again: those above differ\n"));
    }
    return lines.empty() ? exit_pass : exit_fail;
}

}  // namespace afterload::runner
