/// Which steps of a sequence measure again what a run left open, and the sequence with these alone.
#pragma once

#include "runner/papers/retest_of.hpp"
#include "runner/papers/run_document.hpp"
#include "sequences/sequence.hpp"

#include <tl/expected.hpp>

#include <string>

namespace afterload::runner {

/// What of `earlier`, a run of `sequence`, is measured again, and what stands.
///
/// Again: a step with a figure that failed, failed conditionally or could not be resolved; one that
/// was skipped or not reached; a soak that did not come to its end or saw what may be the unit's.
/// With every step that one of them depends on: those that `after` names, gates of the offset, and
/// the last gain of the same path where a figure refers to the input. A figure that is not
/// comparable stands: measuring again states no condition. No steps: there is nothing to measure
/// again.
[[nodiscard]] RetestOf retest_of(const RunDocument& earlier, const sequences::Sequence& sequence);

/// `sequence` with the steps of `retest` alone.
///
/// A step whose forerunners are left out has their signal path, and asks for their controls in its
/// own prompt: the person sets once what the whole sequence would have left set.
/// Fails, in one line, when a step is not one of the sequence.
[[nodiscard]] tl::expected<sequences::Sequence, std::string> reduced(sequences::Sequence sequence,
                                                                     const RetestOf& retest);

}  // namespace afterload::runner
