#include "analysis/rig_drift.hpp"

#include "analysis/median.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

bool carries_over(FigureKind kind) {
    switch (kind) {
        case FigureKind::output_voltage:
        case FigureKind::output_power:
        case FigureKind::short_term_power:
        case FigureKind::distortion_limited_power:
        case FigureKind::gain:
        case FigureKind::channel_balance:
        case FigureKind::frequency:
        case FigureKind::frequency_response:
        case FigureKind::input_sensitivity:
        case FigureKind::overload_level:
        case FigureKind::equalisation_error:
        case FigureKind::tone_range_error:
            return true;
        default:
            return false;
    }
}

}  // namespace

double RigDrift::at(double day) const {
    const auto next = std::upper_bound(knots_.begin(), knots_.end(), day,
                                       [](double wanted, const Knot& k) { return wanted < k.day; });
    if (next == knots_.begin()) {
        return knots_.front().part;
    }
    if (next == knots_.end()) {
        return knots_.back().part;
    }
    const Knot& before = *std::prev(next);
    return before.part + (next->part - before.part) * (day - before.day) / (next->day - before.day);
}

double RigDrift::taken_off(double value, double day) const {
    return ratio_ ? value / at(day) : value - at(day);
}

double RigDrift::range() const {
    const auto [least, greatest] = std::minmax_element(
        knots_.begin(), knots_.end(), [](const Knot& a, const Knot& b) { return a.part < b.part; });
    return greatest->part - least->part;
}

std::optional<RigDrift> rig_drift(FigureKind kind, std::vector<GoldenReading> readings) {
    std::erase_if(readings, [](const GoldenReading& one) {
        return !std::isfinite(one.value) || !std::isfinite(one.day);
    });
    if (readings.size() < fewest_golden_readings || !carries_over(kind)) {
        return std::nullopt;
    }
    std::stable_sort(readings.begin(), readings.end(),
                     [](const GoldenReading& a, const GoldenReading& b) { return a.day < b.day; });
    std::vector<double> values;
    for (const GoldenReading& one : readings) {
        values.push_back(one.value);
    }
    const double middle = median_of(values);
    RigDrift drift;
    drift.ratio_ = unit_of(kind) != Unit::decibel;
    for (const GoldenReading& one : readings) {
        const double part = drift.ratio_ ? one.value / middle : one.value - middle;
        if (!std::isfinite(part) || (drift.ratio_ && part <= 0.0)) {
            return std::nullopt;
        }
        drift.knots_.push_back({one.day, part});
    }
    return drift;
}

}  // namespace afterload::analysis
