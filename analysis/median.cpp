#include "analysis/median.hpp"

#include <algorithm>
#include <cstddef>

namespace afterload::analysis {

double median_of(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

}  // namespace afterload::analysis
