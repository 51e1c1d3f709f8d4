#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/finished_run.hpp"

namespace afterload::runner {

int retest(const RetestOptions& command, const OutputOptions& output) {
    const auto earlier = read_finished_run(command.run);
    if (!earlier) {
        return refuse(output, earlier.error(), exit_bad_input);
    }
    const RunDocument& run_before = earlier->document;
    if (run_before.state == RunState::running) {
        return refuse(output, command.run + ": goes on; what it leaves open is not known yet",
                      exit_bad_input);
    }
    RunOptions whole;
    whole.retest = command.run;
    whole.before = command.run;
    whole.bench = command.bench;
    whole.job = command.job.empty() ? run_before.job : command.job;
    whole.serial = run_before.serial;
    whole.stage = command.stage.value_or(run_before.stage == Stage::as_received ? Stage::repaired
                                                                                : run_before.stage);
    whole.runs = command.runs;
    whole.plan = command.plan;
    whole.assume_prompts = command.assume_prompts;
    whole.no_wait = command.no_wait;
    whole.socket = command.socket;
    return run(whole, output);
}

}  // namespace afterload::runner
