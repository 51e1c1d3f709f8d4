/// A run in the OpenMetrics text format, for programs that keep series of numbers.
///
/// Every figure with a number is a gauge in SI units, with its expanded uncertainty beside it; a
/// bound is a gauge of its own, for it is no value. The run itself is an info metric.
///
/// Source  OpenMetrics 1.0 (the text format, its escapes, and `# EOF`).
#pragma once

#include "runner/papers/run_document.hpp"

#include <string>
#include <string_view>

namespace afterload::runner {

/// The value of a label: backslash, quote and line feed escaped, broken UTF-8 as U+FFFD.
[[nodiscard]] std::string label_escaped(std::string_view text);

[[nodiscard]] std::string open_metrics(const RunDocument& run);

}  // namespace afterload::runner
