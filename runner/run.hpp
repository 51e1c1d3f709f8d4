/// A run: one sequence carried out on one unit, from the control card to the safe state.
#pragma once

#include "instruments/bench.hpp"
#include "runner/operator.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/progress.hpp"
#include "runner/run_folder.hpp"
#include "sequences/bench_file.hpp"
#include "sequences/sequence.hpp"

#include <atomic>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// An input file as it was used.
struct InputText {
    std::string role;  ///< "rating", "house", "bench", "sequence", "job"
    std::string path;
    std::string text;
};

/// Everything a run needs to know before it begins; checked (review) by the caller.
struct RunPlan {
    RatingSheet sheet;  ///< the unit's own with the house's laid under it
    sequences::BenchFile bench;
    sequences::Sequence sequence;
    std::vector<InputText> inputs;
    std::map<std::string, std::string> parameters;
    std::string serial;
    std::string job;
    Stage stage = Stage::repaired;
    std::string id;
    std::string started;             ///< RFC 3339, UTC
    std::vector<std::string> notes;  ///< what is known before it begins: an old rig check
    /// A run whose soak goes on: all that is known of it, and the step that it goes on with.
    std::shared_ptr<const RunDocument> continues;
    int begins_at = 0;               ///< index of the first step that is carried out
    std::optional<RetestOf> retest;  ///< the sequence holds only what is measured again
};

/// Carries the plan out on `bench` and leaves the whole record in `folder`.
///
/// Whatever happens (a failed instrument, a limit, a stop, an exception from a library) the bench
/// is made safe before this returns, and what was measured until then is in the folder. `stop` may
/// be set at any time from a signal handler.
[[nodiscard]] instruments::Task<RunDocument> carry_out(RunPlan plan, instruments::Bench& bench,
                                                       Operator& person, Progress& progress,
                                                       const RunFolder& folder,
                                                       const std::atomic<bool>& stop);

}  // namespace afterload::runner
