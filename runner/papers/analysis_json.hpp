/// The analysis document (schema "afterload/analysis/1",
/// runner/papers/schemas/analysis.schema.json): the figures of one capture, without a bench behind
/// it.
#pragma once

#include "runner/capture/capture_analysis.hpp"
#include "runner/papers/json_text.hpp"

namespace afterload::runner {

/// The document of `analysis`. Written with json_line() it is one line, so that several captures
/// make a stream of one document a line.
[[nodiscard]] Json analysis_json(const CaptureAnalysis& analysis);

}  // namespace afterload::runner
