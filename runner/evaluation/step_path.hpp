/// The signal path through the unit, as prompts and steps set it.
#pragma once

#include "runner/evaluation/evaluate.hpp"
#include "sequences/sequence.hpp"

namespace afterload::runner {

/// The path after the prompt's controls and the step's own words, starting from `path`.
///
/// Controls with a meaning for the path: input, output, volume, tone (defeat, on), bass and treble
/// (centre, maximum, minimum), speakers (A, B). Others are the person's business.
[[nodiscard]] StepPath path_after(StepPath path, const sequences::Step& step);

/// Names what it runs between, and the volume: ways between the same are much alike.
[[nodiscard]] std::string terminals_of(const StepPath& path);

/// Names the path, so that what is learnt of its gain is used for it alone.
[[nodiscard]] std::string key_of(const StepPath& path);

}  // namespace afterload::runner
