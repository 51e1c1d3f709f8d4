/// A soak carried out: hours on load, every block watched, events kept as they happen, reactions
/// carried out, steps measured again in between.
#pragma once

#include "analysis/quantity.hpp"
#include "runner/driver.hpp"
#include "runner/progress.hpp"
#include "runner/run.hpp"
#include "runner/run_folder.hpp"
#include "runner/soak/soak_player.hpp"
#include "sequences/soak.hpp"

#include <array>
#include <cstddef>
#include <functional>
#include <optional>
#include <string>

namespace afterload::runner {

/// A soak and what it stands in. What is referred to outlives it.
struct SoakAtWork {
    const sequences::Step& step;
    const RunPlan& plan;
    Driver& driver;
    Progress& progress;
    const RunFolder& folder;
    RunDocument& document;
    std::size_t result = 0;  ///< index of its step's result in the document
    Seconds run_began;       ///< on the bench's clock
    std::string path;        ///< key of the signal path, for what is learnt of its gain
    std::string terminals;
    SoakConsent consent;
    SoakLoop loop;  ///< of a file that is played; else empty
    /// Carries a step out within the soak and appends its result to the document.
    /// `moment` is that of the soak: "start", "0:30", "end".
    std::function<instruments::Task<RunResult<void>>(const sequences::Step& step,
                                                     std::string moment)>
        measure;
    /// Makes the document durable.
    std::function<RunResult<void>()> keep;
};

/// Drives until its time is up, something ends it, or the run is told to stop. Fails, with one line
/// that says why, in every case but the first; whatever happened until then is in the document and
/// in the folder. The caller makes the bench safe.
[[nodiscard]] instruments::Task<RunResult<void>> carry_out_soak(SoakAtWork work);

}  // namespace afterload::runner
