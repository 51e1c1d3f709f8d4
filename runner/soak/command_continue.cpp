#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/papers/json_text.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/papers/sheet.hpp"
#include "runner/run_to_end.hpp"
#include "runner/soak/soak_continued.hpp"
#include "runner/stop_signal.hpp"
#include "runner/terminal_progress.hpp"
#include "runner/whole_run.hpp"

#include <atomic>
#include <iostream>
#include <utility>

namespace afterload::runner {

int continue_run(const ContinueOptions& command, const OutputOptions& output) {
    // Held from before it is read: nobody else may go on with it meanwhile.
    auto folder = RunFolder::take_up(command.run);
    if (!folder) {
        return refuse(output, folder.error(), exit_bad_input);
    }
    auto run = read_finished_run(command.run);
    if (!run) {
        return refuse(output, run.error(), exit_bad_input);
    }
    auto plan = plan_to_continue(*run);
    if (!plan) {
        return refuse(output, plan.error(), exit_bad_input);
    }
    if (command.assume_prompts && !plan->bench.simulated) {
        return refuse(output,
                      "--assume-prompts is for benches on which everything that drives is "
                      "simulated; on this one a person answers",
                      exit_usage);
    }
    AssumedOperator assumed;
    TerminalOperator asked{std::cin, std::cerr};
    Operator& person =
        command.assume_prompts ? static_cast<Operator&>(assumed) : static_cast<Operator&>(asked);
    NoProgress no_progress;
    TerminalProgress lines{error_terminal(output)};
    Progress& progress = output.quiet || output.json ? static_cast<Progress&>(no_progress)
                                                     : static_cast<Progress&>(lines);
    const std::atomic<bool>& stop = stop_on_signals();
    const auto whole =
        run_to_end(continued_run(*std::move(plan), *std::move(folder), person, progress, stop));
    if (!whole) {
        return refuse(output, whole.error().why, whole.error().exit_status);
    }
    if (output.json) {
        print(json_line(run_json(whole->document)) + "\n");
    } else {
        print(sheet(whole->document, whole->folder + "/report.html", output_terminal(output)));
    }
    return exit_status(whole->document);
}

int enter_cause(const CauseOptions& command, const OutputOptions& output) {
    const auto folder = RunFolder::take_up(command.run);
    if (!folder) {
        return refuse(output, folder.error(), exit_bad_input);
    }
    auto run = read_finished_run(command.run);
    if (!run) {
        return refuse(output, run.error(), exit_bad_input);
    }
    if (const auto entered = enter_cause(*std::move(run), command.because, command.by); !entered) {
        return refuse(output, entered.error(), exit_bad_input);
    }
    if (output.json) {
        Json document;
        document["schema"] = "afterload/cause/1";
        document["run"] = command.run;
        print(json_line(document) + "\n");
    } else {
        print(command.run + ": the cause is entered; a person may start it again\n");
    }
    return exit_pass;
}

}  // namespace afterload::runner
