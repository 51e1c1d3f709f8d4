/// A run from the opening of its bench to its last file.
#pragma once

#include "instruments/async.hpp"
#include "runner/exit_status.hpp"
#include "runner/operator.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/progress.hpp"
#include "runner/run.hpp"

#include <tl/expected.hpp>

#include <atomic>
#include <string>

namespace afterload::runner {

struct WholeRun {
    RunDocument document;
    std::string folder;
};

/// Why a run did not begin; it left no folder behind.
struct Refusal {
    std::string why;
    int exit_status = exit_no_device;
};

/// Opens the bench, looks at the rig as far as that needs no hands, carries the plan out in a
/// folder of its own under `runs`, and lets the bench go. `plan` was reviewed by the caller; its
/// identity and its beginning are set here.
[[nodiscard]] instruments::Task<tl::expected<WholeRun, Refusal>> whole_run(
    RunPlan plan, std::string runs, Operator& person, Progress& progress,
    const std::atomic<bool>& stop);

/// The same for a run that goes on in its own folder (plan.continues).
[[nodiscard]] instruments::Task<tl::expected<WholeRun, Refusal>> continued_run(
    RunPlan plan, RunFolder folder, Operator& person, Progress& progress,
    const std::atomic<bool>& stop);

}  // namespace afterload::runner
