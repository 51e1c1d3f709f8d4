/// Compared runs as JSON (schema "afterload/comparison/1",
/// runner/papers/schemas/comparison.schema.json).
#pragma once

#include "runner/compare/run_comparison.hpp"
#include "runner/papers/json_text.hpp"

#include <string>
#include <vector>

namespace afterload::runner {

/// A run that takes part, with where it was read from and what is wrong with its folder.
struct ComparedRun {
    std::string path;
    RunDocument document;
    std::vector<std::string> wrong;          ///< one line each; empty when the folder is whole
    std::vector<std::size_t> damaged_steps;  ///< whose records are not what was measured
};

/// Exit status of a comparison: 0 when nothing got worse, 1 when a figure really did, 2 when
/// nothing could be compared, and as for bad input when a folder is not whole.
[[nodiscard]] int exit_status(const std::vector<RunComparison>& comparisons,
                              const std::vector<ComparedRun>& runs,
                              const std::vector<std::string>& unreadable);

/// Each comparison names its two runs by their place in `runs`. `unreadable` are folders that could
/// not be read at all, one line each.
[[nodiscard]] Json comparison_json(const std::vector<RunComparison>& comparisons,
                                   const std::vector<ComparedRun>& runs,
                                   const std::vector<std::string>& unreadable);

}  // namespace afterload::runner
