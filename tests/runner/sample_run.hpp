/// An invented run with everything that a document must be able to say: every verdict, bounds in
/// both directions, assumed conditions, a channel that was not measured, events, retakes, a skipped
/// step.
#pragma once

#include "runner/papers/run_document.hpp"

namespace afterload::runner {

/// Final verification of an invented Hollinfay H40; fails on the damping factor, right.
[[nodiscard]] RunDocument sample_run();

/// The same with nothing but passes.
[[nodiscard]] RunDocument passing_run();

/// As it came in: starved bias left, dried coupling capacitor right.
[[nodiscard]] RunDocument received_run();

}  // namespace afterload::runner
