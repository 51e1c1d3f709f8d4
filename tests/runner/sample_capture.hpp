/// An invented capture's analysis with every shape a figure takes: value, table, curve, bound.
#pragma once

#include "runner/capture/capture_analysis.hpp"

namespace afterload::runner {

[[nodiscard]] CaptureAnalysis sample_capture();

}  // namespace afterload::runner
