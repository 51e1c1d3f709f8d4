#include "analysis/likeness.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

namespace afterload::analysis {

namespace {

constexpr double band_slack = 0.02;
constexpr double load_slack = 0.05;
constexpr double level_slack = 0.01;
constexpr double mains_slack = 0.10;
constexpr double room_slack_kelvin = 10.0;
constexpr double longest_over_shortest = 2.0;

bool near(double a, double b, double slack) {
    return std::abs(a - b) <= slack * std::max(std::abs(a), std::abs(b));
}
bool near(Hertz a, Hertz b) {
    return near(a.in<Hertz>(), b.in<Hertz>(), band_slack);
}
bool near(const Band& a, const Band& b) {
    return near(a.low, b.low) && near(a.high, b.high);
}
bool near(Ohms a, Ohms b) {
    return near(a.in<Ohms>(), b.in<Ohms>(), load_slack);
}
bool near(const LevelTarget& a, const LevelTarget& b) {
    return a.kind == b.kind && near(a.value, b.value, level_slack);
}
bool near(Gain a, Gain b) {
    return std::abs((a - b).decibels()) <= 0.01;
}
bool about_as_long(Seconds a, Seconds b) {
    const auto [shorter, longer] = std::minmax({a.in<Seconds>(), b.in<Seconds>()});
    return longer <= longest_over_shortest * shorter;
}

/// Both state it and it agrees, or neither does.
template <class T, class Agree>
bool alike(const std::optional<T>& a, const std::optional<T>& b, Agree agree) {
    return a && b ? agree(*a, *b) : !a && !b;
}
/// Where one does not state it, nothing is known against it.
template <class T, class Agree>
bool not_at_odds(const std::optional<T>& a, const std::optional<T>& b, Agree agree) {
    return !a || !b || agree(*a, *b);
}

const auto equal = [](const auto& a, const auto& b) { return a == b; };
const auto within = [](const auto& a, const auto& b) { return near(a, b); };

/// Rms goes without saying.
Detector detector(const Conditions& conditions) {
    return conditions.detector.value_or(Detector::rms);
}

bool alike(const Conditions& a, const Conditions& b, bool curves, std::string_view key) {
    if (key == "load") {
        return alike(a.load, b.load, within);
    }
    if (key == "channels_driven") {
        return alike(a.channels_driven, b.channels_driven, equal);
    }
    if (key == "output_level") {
        return alike(a.output_level, b.output_level, within);
    }
    if (key == "frequency") {
        return curves || alike(a.frequency, b.frequency, within);
    }
    if (key == "tone_range") {
        return curves || alike(a.tone_range, b.tone_range, within);
    }
    if (key == "bandwidth") {
        return alike(a.bandwidth, b.bandwidth, within);
    }
    if (key == "weighting") {
        return alike(a.weighting, b.weighting, equal);
    }
    if (key == "detector") {
        return detector(a) == detector(b);
    }
    if (key == "reference_level") {
        return alike(a.reference_level, b.reference_level, within);
    }
    if (key == "reference_frequency") {
        return alike(a.reference_frequency, b.reference_frequency, within);
    }
    if (key == "highest_order") {
        return alike(a.highest_order, b.highest_order, equal);
    }
    if (key == "thd") {
        return alike(a.thd, b.thd, [](double x, double y) { return near(x, y, level_slack); });
    }
    if (key == "fall") {
        return alike(a.fall, b.fall, within);
    }
    if (key == "input") {
        return alike(a.input, b.input, equal);
    }
    if (key == "output") {
        return alike(a.output, b.output, equal);
    }
    if (key == "path") {
        return alike(a.path, b.path, equal);
    }
    if (key == "source_impedance") {
        return not_at_odds(a.source_impedance, b.source_impedance, within);
    }
    if (key == "termination") {
        return not_at_odds(a.termination, b.termination, equal);
    }
    if (key == "volume") {
        return alike(a.volume, b.volume, equal);
    }
    if (key == "tone_controls") {
        return alike(a.tone_controls, b.tone_controls, equal);
    }
    if (key == "curve") {
        return alike(a.curve, b.curve, equal);
    }
    if (key == "mains_voltage") {
        return not_at_odds(a.mains_voltage, b.mains_voltage,
                           [](double x, double y) { return near(x, y, mains_slack); });
    }
    if (key == "warm_up") {
        return not_at_odds(a.warm_up, b.warm_up, about_as_long);
    }
    if (key == "preconditioning") {
        return not_at_odds(a.preconditioning, b.preconditioning, equal);
    }
    if (key == "ambient") {
        return not_at_odds(a.ambient, b.ambient, [](Celsius x, Celsius y) {
            return std::abs((x - y).in<Celsius>()) <= room_slack_kelvin;
        });
    }
    if (key == "dwell") {
        return not_at_odds(a.dwell, b.dwell, about_as_long);
    }
    if (key == "signal") {
        return alike(a.signal, b.signal, equal);
    }
    return true;
}

/// What tells one row from another; the rest are circumstances of the same row.
constexpr std::string_view point_keys[] = {
    "output_level",        "frequency", "tone_range", "reference_level", "thd",   "fall",
    "reference_frequency", "curve",     "weighting",  "detector",        "signal"};

bool both_curves(const Figure& before, const Figure& after) {
    const auto of_a_curve = [](const Figure& figure) {
        return figure.curve.has_value() && figure.kind != FigureKind::noise_voltage;
    };
    return of_a_curve(before) && of_a_curve(after);
}

}  // namespace

bool same_point(const Figure& before, const Figure& after) {
    if (before.kind != after.kind || before.channel != after.channel || before.pair != after.pair) {
        return false;
    }
    const bool curves = both_curves(before, after);
    return std::ranges::all_of(point_keys, [&](std::string_view key) {
        return alike(before.conditions, after.conditions, curves, key);
    });
}

std::vector<std::string_view> unlike_conditions(const Figure& before, const Figure& after) {
    const bool curves = both_curves(before, after);
    std::vector<std::string_view> keys;
    for (const std::string_view key : condition_keys()) {
        if (!alike(before.conditions, after.conditions, curves, key)) {
            keys.push_back(key);
        }
    }
    return keys;
}

}  // namespace afterload::analysis
