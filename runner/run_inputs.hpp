/// The files that a run is made from, read and held against each other.
#pragma once

#include "runner/options.hpp"
#include "runner/run.hpp"
#include "sequences/diagnostic.hpp"

#include <string>
#include <variant>
#include <vector>

namespace afterload::runner {

/// A file that is not there, in one line.
struct MissingInput {
    std::string what;
};
using Mistakes = std::vector<sequences::Diagnostics>;

/// Reads all files of `options` and reviews the sequence against sheet and bench. All mistakes of
/// all files come back together.
[[nodiscard]] std::variant<RunPlan, Mistakes, MissingInput> read_run_inputs(
    const RunOptions& options);

}  // namespace afterload::runner
