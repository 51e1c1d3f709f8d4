/// The commands of the command line; each gives its exit status.
#pragma once

#include "runner/options.hpp"

namespace afterload::runner {

[[nodiscard]] int check(const CheckOptions& command, const OutputOptions& output);
[[nodiscard]] int run(const RunOptions& command, const OutputOptions& output);
[[nodiscard]] int analyze(const AnalyzeOptions& command, const OutputOptions& output);
[[nodiscard]] int show(const ShowOptions& command, const OutputOptions& output);
[[nodiscard]] int report(const ReportOptions& command, const OutputOptions& output);
[[nodiscard]] int list_instruments(const InstrumentsOptions& command, const OutputOptions& output);
[[nodiscard]] int simulate(const SimulateOptions& command, const OutputOptions& output);
[[nodiscard]] int new_bench(const NewBenchOptions& command, const OutputOptions& output);
[[nodiscard]] int new_rating(const NewRatingOptions& command, const OutputOptions& output);
[[nodiscard]] int new_job(const NewJobOptions& command, const OutputOptions& output);
[[nodiscard]] int new_sequence(const NewSequenceOptions& command, const OutputOptions& output);
[[nodiscard]] int calibrate(const CalibrateOptions& command, const OutputOptions& output);
[[nodiscard]] int rig_check(const RigCheckOptions& command, const OutputOptions& output);
[[nodiscard]] int stop(const StopOptions& command, const OutputOptions& output);
[[nodiscard]] int status(const StatusOptions& command, const OutputOptions& output);
[[nodiscard]] int watch(const WatchOptions& command, const OutputOptions& output);
[[nodiscard]] int answer(const AnswerOptions& command, const OutputOptions& output);
[[nodiscard]] int cancel(const CancelOptions& command, const OutputOptions& output);
[[nodiscard]] int list_runs(const ListOptions& command, const OutputOptions& output);
[[nodiscard]] int statistics(const StatisticsOptions& command, const OutputOptions& output);
[[nodiscard]] int history(const HistoryOptions& command, const OutputOptions& output);
[[nodiscard]] int reindex(const ReindexOptions& command, const OutputOptions& output);
[[nodiscard]] int compare(const CompareOptions& command, const OutputOptions& output);
[[nodiscard]] int retest(const RetestOptions& command, const OutputOptions& output);
[[nodiscard]] int rescore(const RescoreOptions& command, const OutputOptions& output);
[[nodiscard]] int note(const NoteOptions& command, const OutputOptions& output);
[[nodiscard]] int accept(const AcceptOptions& command, const OutputOptions& output);
[[nodiscard]] int export_run(const ExportOptions& command, const OutputOptions& output);
[[nodiscard]] int continue_run(const ContinueOptions& command, const OutputOptions& output);
[[nodiscard]] int enter_cause(const CauseOptions& command, const OutputOptions& output);
[[nodiscard]] int replay_run(const ReplayOptions& command, const OutputOptions& output);

}  // namespace afterload::runner
