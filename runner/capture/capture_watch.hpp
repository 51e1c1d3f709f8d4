/// A capture of any length watched as a soak would watch it: `afterload analyze --watch`.
#pragma once

#include "instruments/recording.hpp"
#include "runner/capture/capture_analysis.hpp"

#include <tl/expected.hpp>

#include <string>

namespace afterload::runner {

/// Reads `file` in blocks from `reader`, in memory that does not grow with its length. The figures
/// are means over what could be watched; the events are in `watched`. Gaps, repeats and clipping
/// are faults of the capture as well, one fault a kind and channel with the first of them.
///
/// Fails   in one line: fewer full-scale voltages than channels, a signal that is not watched, a
///         file that still grows.
[[nodiscard]] tl::expected<CaptureAnalysis, std::string> watch_capture(
    const std::string& file, instruments::RecordingReader& reader, const CaptureSettings& settings);

}  // namespace afterload::runner
