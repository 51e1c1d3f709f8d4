/// The WAV that a soak plays over and over: from the run's folder, as it was when the run began.
#pragma once

#include "runner/run.hpp"
#include "runner/run_folder.hpp"
#include "runner/soak/soak_player.hpp"
#include "runner/trouble.hpp"
#include "sequences/diagnostic.hpp"
#include "sequences/sequence.hpp"

#include <optional>
#include <string>

namespace afterload::runner {

/// Role of the file among a run's inputs.
inline constexpr const char* stimulus_role = "stimulus";

/// The step is a soak that plays a file.
[[nodiscard]] bool plays_file(const sequences::Step& step);

/// The path that a soak of `sequence_path` means by `file`: beside the sequence, unless absolute.
[[nodiscard]] std::string soak_file_path(const std::string& sequence_path, const std::string& file);

/// Why what a soak is to play cannot be played round and round on this bench: not among the run's
/// inputs, not to be read, another rate than the card's, silent, over ten minutes. Nothing: it can,
/// or the step plays no file.
[[nodiscard]] std::optional<sequences::Diagnostics> cannot_be_looped(const sequences::Step& step,
                                                                     const RunPlan& plan);

/// Its samples, brought to a largest magnitude of 1; one channel plays on both. Empty where the
/// step's soak plays none.
[[nodiscard]] RunResult<SoakLoop> soak_file_loop(const sequences::Step& step, const RunPlan& plan,
                                                 const RunFolder& folder);

}  // namespace afterload::runner
