/// The median of a handful of values.
#pragma once

#include <vector>

namespace afterload::analysis {

/// The upper one of the two middle values where their number is even. Not empty.
[[nodiscard]] double median_of(std::vector<double> values);

}  // namespace afterload::analysis
