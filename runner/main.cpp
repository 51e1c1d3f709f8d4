/// The command line `afterload`.
#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/heap.hpp"
#include "runner/options.hpp"
#include "runner/record/named_run.hpp"

#include <exception>
#include <string>

namespace {

using namespace afterload::runner;

struct Perform {
    const OutputOptions& output;
    int operator()(const NothingToDo& nothing) const {
        if (nothing.exit_status == 0) {
            print(nothing.text);
        } else {
            print_error(nothing.text);
        }
        return nothing.exit_status;
    }
    int operator()(const CheckOptions& command) const { return check(command, output); }
    int operator()(const RunOptions& command) const { return run(command, output); }
    int operator()(const AnalyzeOptions& command) const { return analyze(command, output); }
    int operator()(const ShowOptions& command) const { return show(command, output); }
    int operator()(const ReportOptions& command) const { return report(command, output); }
    int operator()(const ReplayOptions& command) const { return replay_run(command, output); }
    int operator()(const CompareOptions& command) const { return compare(command, output); }
    int operator()(const RetestOptions& command) const { return retest(command, output); }
    int operator()(const RescoreOptions& command) const { return rescore(command, output); }
    int operator()(const NoteOptions& command) const { return note(command, output); }
    int operator()(const AcceptOptions& command) const { return accept(command, output); }
    int operator()(const ExportOptions& command) const { return export_run(command, output); }
    int operator()(const InstrumentsOptions& command) const {
        return list_instruments(command, output);
    }
    int operator()(const SimulateOptions& command) const { return simulate(command, output); }
    int operator()(const NewBenchOptions& command) const { return new_bench(command, output); }
    int operator()(const NewRatingOptions& command) const { return new_rating(command, output); }
    int operator()(const NewJobOptions& command) const { return new_job(command, output); }
    int operator()(const NewSequenceOptions& command) const {
        return new_sequence(command, output);
    }
    int operator()(const CalibrateOptions& command) const { return calibrate(command, output); }
    int operator()(const RigCheckOptions& command) const { return rig_check(command, output); }
    int operator()(const StopOptions& command) const { return stop(command, output); }
    int operator()(const StatusOptions& command) const { return status(command, output); }
    int operator()(const WatchOptions& command) const { return watch(command, output); }
    int operator()(const AnswerOptions& command) const { return answer(command, output); }
    int operator()(const CancelOptions& command) const { return cancel(command, output); }
    int operator()(const ListOptions& command) const { return list_runs(command, output); }
    int operator()(const ContinueOptions& command) const { return continue_run(command, output); }
    int operator()(const CauseOptions& command) const { return enter_cause(command, output); }
    int operator()(const StatisticsOptions& command) const { return statistics(command, output); }
    int operator()(const HistoryOptions& command) const { return history(command, output); }
    int operator()(const ReindexOptions& command) const { return reindex(command, output); }
};

}  // namespace

int main(int count, char** words) {
    keep_freed_memory();
    try {
        const Options options = with_folders_of_runs(read_options(count, words));
        return std::visit(Perform{options.output}, options.command);
    } catch (const std::exception& error) {
        print_error(std::string{"afterload: the program itself failed: "} + error.what() + "\n");
        return exit_internal;
    }
}
