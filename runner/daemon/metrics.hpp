/// The daemon's numbers as OpenMetrics text.
///
/// Source  OpenMetrics 1.0: counters end in _total, base units as suffix, "# EOF" at the end.
#pragma once

#include "runner/daemon/run_desk.hpp"

#include <string>

namespace afterload::runner {

inline constexpr const char* metrics_type =
    "application/openmetrics-text; version=1.0.0; charset=utf-8";

[[nodiscard]] std::string metrics_text(const RunDesk& desk);

}  // namespace afterload::runner
