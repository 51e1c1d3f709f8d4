/// Statistics of a model as a sheet for a person, and as JSON.
#pragma once

#include "runner/papers/json_text.hpp"
#include "runner/papers/terminal_text.hpp"
#include "runner/record/model_statistics.hpp"

#include <string>

namespace afterload::runner {

[[nodiscard]] std::string statistics_text(const ModelStatistics& statistics,
                                          const Terminal& terminal);

/// Schema "afterload/statistics/1", values in SI units.
[[nodiscard]] Json statistics_json(const ModelStatistics& statistics);

}  // namespace afterload::runner
