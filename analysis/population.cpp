#include "analysis/population.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

constexpr double quartiles_of_a_normal =
    1.349;  // distance of its quartiles, in standard deviations
constexpr double unlike_its_fellows = 3.0;

Quantile quantile(const std::vector<UnitReading>& ordered, double p) {
    const double at = p * static_cast<double>(ordered.size() - 1);
    const auto under = static_cast<std::size_t>(std::floor(at));
    const std::size_t over = std::min(under + 1, ordered.size() - 1);
    const double part = at - std::floor(at);
    const UnitReading& low = ordered[under];
    const UnitReading& high = ordered[over];
    const bool both = part > 0.0;
    return {both ? low.value + part * (high.value - low.value) : low.value, low.bound ? low.bound
                                                                            : both && high.bound
                                                                                ? high.bound
                                                                                : std::nullopt};
}

}  // namespace

Population population(std::vector<UnitReading> readings) {
    std::erase_if(readings, [](const UnitReading& one) { return !std::isfinite(one.value); });
    Population found;
    found.units = readings.size();
    if (readings.empty()) {
        return found;
    }
    std::stable_sort(readings.begin(), readings.end(),
                     [](const UnitReading& a, const UnitReading& b) { return a.value < b.value; });
    found.bounds = static_cast<std::size_t>(
        std::count_if(readings.begin(), readings.end(),
                      [](const UnitReading& one) { return one.bound.has_value(); }));
    found.median = quantile(readings, 0.5);
    found.lower = quantile(readings, 0.25);
    found.upper = quantile(readings, 0.75);
    found.least = readings.front().value;
    found.greatest = readings.back().value;
    return found;
}

double below(const std::vector<UnitReading>& readings, double value) {
    double count = 0.0;
    for (const UnitReading& one : readings) {
        count += one.value < value ? 1.0 : one.value == value ? 0.5 : 0.0;
    }
    return count;
}

bool stands_out(const Population& among, double value) {
    if (among.units < fewest_for_a_share || among.median.bound || among.lower.bound ||
        among.upper.bound) {
        return false;
    }
    const double deviation = (among.upper.value - among.lower.value) / quartiles_of_a_normal;
    return std::abs(value - among.median.value) > unlike_its_fellows * deviation;
}

}  // namespace afterload::analysis
