#include "runner/client/submit_run.hpp"
#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/mistakes.hpp"
#include "runner/papers.hpp"
#include "runner/papers/json_text.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/papers/sheet.hpp"
#include "runner/plan/plan_text.hpp"
#include "runner/run_inputs.hpp"
#include "runner/run_to_end.hpp"
#include "runner/soak/soak_continued.hpp"
#include "runner/stop_signal.hpp"
#include "runner/terminal_progress.hpp"
#include "runner/whole_run.hpp"

#include <algorithm>
#include <atomic>
#include <iostream>
#include <memory>
#include <optional>

namespace afterload::runner {
namespace {

int carry_out_plan(RunPlan plan, const RunOptions& command, const OutputOptions& output) {
    AssumedOperator assumed;
    TerminalOperator asked{std::cin, std::cerr};
    Operator& person =
        command.assume_prompts ? static_cast<Operator&>(assumed) : static_cast<Operator&>(asked);
    NoProgress no_progress;
    TerminalProgress lines{error_terminal(output)};
    Progress& progress = output.quiet || output.json ? static_cast<Progress&>(no_progress)
                                                     : static_cast<Progress&>(lines);
    const std::atomic<bool>& stop = stop_on_signals();
    const auto whole = run_to_end(whole_run(std::move(plan), command.runs, person, progress, stop));
    if (!whole) {
        return refuse(output, whole.error().why, whole.error().exit_status);
    }
    const RunDocument& document = whole->document;
    if (output.json) {
        print(json_line(run_json(document)) + "\n");
    } else {
        std::optional<StoredBeside> stored;
        if (const auto folder = RunFolder::open(whole->folder)) {
            stored = stored_beside(*folder, document);
        }
        print(sheet(document, whole->folder + "/report.html", output_terminal(output),
                    stored ? stored->shown() : Beside{}));
    }
    return exit_status(document);
}

}  // namespace

int run(const RunOptions& command, const OutputOptions& output) {
    if (command.bench.empty()) {
        return command.plan ? refuse(output, "--plan needs --bench: a bench file", exit_usage)
                            : submit_run(command, output);
    }
    auto inputs = read_run_inputs(command);
    if (const auto* missing = std::get_if<MissingInput>(&inputs)) {
        return refuse(output, missing->what, exit_no_input);
    }
    if (const auto* mistakes = std::get_if<Mistakes>(&inputs)) {
        return show_mistakes(output, *mistakes, exit_bad_input);
    }
    RunPlan plan = std::get<RunPlan>(std::move(inputs));
    if (!plan.sheet.unit) {
        return refuse(output,
                      command.unit + ": is a house sheet and names no unit; give it with --house",
                      exit_bad_input);
    }
    if (command.plan) {
        const PlannedRun told = planned(plan);
        print(output.json ? json_line(plan_json(told)) + "\n"
                          : plan_text(told, output_terminal(output)));
        return exit_pass;
    }
    if (command.assume_prompts && !plan.bench.simulated) {
        return refuse(
            output,
            "--assume-prompts is for benches on which everything that drives is simulated; "
            "on this one a person answers",
            exit_usage);
    }
    const auto soaks = std::any_of(plan.sequence.steps.begin(), plan.sequence.steps.end(),
                                   [](const auto& step) { return step.soak != nullptr; });
    if (const auto killed = killed_without_cause(command.runs, plan.serial); soaks && killed) {
        return refuse(output,
                      *killed +
                          ": a soak of this unit turned everything off, and nobody has entered a "
                          "cause: afterload cause " +
                          *killed + " --because TEXT --by NAME",
                      exit_bad_input);
    }
    return carry_out_plan(std::move(plan), command, output);
}

}  // namespace afterload::runner
