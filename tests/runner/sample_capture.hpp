/// An invented capture's analysis with every shape a figure takes: value, table, curve, bound.
#pragma once

#include "runner/capture/capture_analysis.hpp"

namespace afterload::runner {

[[nodiscard]] CaptureAnalysis sample_capture();

/// The same, watched: with a dropout and a gap.
[[nodiscard]] CaptureAnalysis sample_watched_capture();

}  // namespace afterload::runner
