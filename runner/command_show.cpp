#include "runner/commands.hpp"
#include "runner/compare/run_comparison.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/finished_run.hpp"
#include "runner/hints/hint_json.hpp"
#include "runner/hints/hint_text.hpp"
#include "runner/input_file.hpp"
#include "runner/mistakes.hpp"
#include "runner/papers.hpp"
#include "runner/papers/figure_text.hpp"
#include "runner/papers/json_text.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/papers/sheet.hpp"
#include "runner/remarks/remark_file.hpp"
#include "runner/replay.hpp"
#include "sequences/hint_reader.hpp"

#include <optional>
#include <utility>

namespace afterload::runner {

namespace {

/// What the rules in the file at `path` say of the run; they lie over those that ship.
tl::expected<Hints, sequences::Diagnostics> hints_by(const std::string& text,
                                                     const std::string& path,
                                                     const RunDocument& run) {
    return sequences::read_hints(text, path, &sequences::shipped_hints())
        .map([&run](const sequences::HintRules& rules) { return hints_for(run, rules); });
}

/// Reads rules a person names and puts what they say into `hints`; else the exit status, and why
/// is told.
std::optional<int> own_hints(const std::string& path, const RunDocument& run,
                             const OutputOptions& output, std::optional<Hints>& hints) {
    if (path.empty()) {
        return std::nullopt;
    }
    const auto text = read_input(path);
    if (!text) {
        return refuse(output, text.error(), exit_no_input);
    }
    auto found = hints_by(*text, path, run);
    if (!found) {
        return show_mistakes(output, {std::move(found.error())}, exit_bad_input);
    }
    hints = *std::move(found);
    return std::nullopt;
}

}  // namespace

int show(const ShowOptions& command, const OutputOptions& output) {
    const auto run = read_finished_run(command.run);
    if (!run) {
        return refuse(output, run.error(), exit_bad_input);
    }
    StoredBeside stored = stored_beside(run->folder, run->document);
    if (const auto failed = own_hints(command.hints, run->document, output, stored.hints)) {
        return *failed;
    }
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
    if (command.figure == "hints") {
        const Hints hints = beside.hints_of(run->document);
        print(output.json ? json_line(hints_json(run->document, hints)) + "\n"
                          : hints_text(hints, output_terminal(output)));
        return exit_pass;
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
    std::optional<Hints> hints;
    if (const auto failed = own_hints(command.hints, run->document, output, hints)) {
        return *failed;
    }
    if (const auto written =
            write_papers(run->document, run->folder, before ? &before->document : nullptr,
                         hints ? &*hints : nullptr);
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
