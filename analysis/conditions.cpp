#include "analysis/conditions.hpp"

#include <fmt/format.h>

#include <array>
#include <cassert>
#include <cmath>

namespace afterload {

std::string_view name(Channels channels) {
    switch (channels) {
        case Channels::left:
            return "left";
        case Channels::right:
            return "right";
        case Channels::both:
            return "both";
    }
    return "";
}

std::string_view name(Weighting weighting) {
    switch (weighting) {
        case Weighting::unweighted:
            return "none";
        case Weighting::a:
            return "A";
        case Weighting::itu_r_468:
            return "ITU-R 468";
    }
    return "";
}

std::string_view name(Detector detector) {
    switch (detector) {
        case Detector::rms:
            return "rms";
        case Detector::quasi_peak:
            return "quasi-peak";
    }
    return "";
}

namespace {

std::string with_prefix(double value, std::string_view unit) {
    const double magnitude = std::abs(value);
    if (magnitude == 0.0 || magnitude >= 0.1) {
        return fmt::format("{:.6g} {}", value, unit);
    }
    if (magnitude >= 1e-4) {
        return fmt::format("{:.6g} m{}", 1e3 * value, unit);
    }
    return fmt::format("{:.6g} u{}", 1e6 * value, unit);
}

std::string fraction_of_rated(double ratio) {
    if (ratio == 1.0) {
        return "rated";
    }
    const double parts = 1.0 / ratio;
    if (ratio > 0.0 && ratio < 1.0 && std::abs(parts - std::round(parts)) < 1e-9 * parts) {
        return fmt::format("1/{:.0f} rated", parts);
    }
    const double decibels = gain_of(PowerRatio{ratio}).decibels();
    return fmt::format("rated {} {:.4g} dB", decibels < 0.0 ? '-' : '+', std::abs(decibels));
}

}  // namespace

std::string reference_text(const LevelTarget& level) {
    return text(level) + (level.kind == LevelTarget::Kind::drive_volts ? " in" : "");
}

std::string text(const LevelTarget& level) {
    switch (level.kind) {
        case LevelTarget::Kind::drive_volts:
        case LevelTarget::Kind::output_volts:
            return with_prefix(level.value, "V");
        case LevelTarget::Kind::drive_dbfs:
            return fmt::format("{:.6g} dBFS", level.value);
        case LevelTarget::Kind::output_power:
            return with_prefix(level.value, "W");
        case LevelTarget::Kind::rated_fraction:
            return fraction_of_rated(level.value);
    }
    return "";
}

namespace {

template <auto Member>
bool holds(const Conditions& conditions) {
    return (conditions.*Member).has_value();
}

struct ConditionRow {
    std::string_view key;
    bool (*stated)(const Conditions&);
};

constexpr std::array condition_rows{
    ConditionRow{"load", holds<&Conditions::load>},
    ConditionRow{"channels_driven", holds<&Conditions::channels_driven>},
    ConditionRow{"output_level", holds<&Conditions::output_level>},
    ConditionRow{"frequency", holds<&Conditions::frequency>},
    ConditionRow{"tone_range", holds<&Conditions::tone_range>},
    ConditionRow{"bandwidth", holds<&Conditions::bandwidth>},
    ConditionRow{"weighting", holds<&Conditions::weighting>},
    ConditionRow{"detector", holds<&Conditions::detector>},
    ConditionRow{"reference_level", holds<&Conditions::reference_level>},
    ConditionRow{"reference_frequency", holds<&Conditions::reference_frequency>},
    ConditionRow{"highest_order", holds<&Conditions::highest_order>},
    ConditionRow{"thd", holds<&Conditions::thd>},
    ConditionRow{"fall", holds<&Conditions::fall>},
    ConditionRow{"input", holds<&Conditions::input>},
    ConditionRow{"output", holds<&Conditions::output>},
    ConditionRow{"path", holds<&Conditions::path>},
    ConditionRow{"source_impedance", holds<&Conditions::source_impedance>},
    ConditionRow{"termination", holds<&Conditions::termination>},
    ConditionRow{"volume", holds<&Conditions::volume>},
    ConditionRow{"tone_controls", holds<&Conditions::tone_controls>},
    ConditionRow{"curve", holds<&Conditions::curve>},
    ConditionRow{"mains_voltage", holds<&Conditions::mains_voltage>},
    ConditionRow{"warm_up", holds<&Conditions::warm_up>},
    ConditionRow{"preconditioning", holds<&Conditions::preconditioning>},
    ConditionRow{"ambient", holds<&Conditions::ambient>},
    ConditionRow{"dwell", holds<&Conditions::dwell>},
    ConditionRow{"signal", holds<&Conditions::signal>},
};

}  // namespace

const std::vector<std::string_view>& condition_keys() {
    static const std::vector<std::string_view> keys = [] {
        std::vector<std::string_view> all;
        all.reserve(condition_rows.size());
        for (const ConditionRow& row : condition_rows) {
            all.push_back(row.key);
        }
        return all;
    }();
    return keys;
}

bool stated(const Conditions& conditions, std::string_view key) {
    for (const ConditionRow& row : condition_rows) {
        if (row.key == key) {
            return row.stated(conditions);
        }
    }
    assert(!"a key of condition_keys()");
    return false;
}

}  // namespace afterload
