#include "analysis/level.hpp"

#include <cmath>

namespace afterload {

Gain gain_of(AmplitudeRatio ratio) {
    return Gain{20.0 * std::log10(ratio.in<AmplitudeRatio>())};
}

Gain gain_of(PowerRatio ratio) {
    return Gain{10.0 * std::log10(ratio.in<PowerRatio>())};
}

AmplitudeRatio amplitude_ratio(Gain gain) {
    return AmplitudeRatio{std::pow(10.0, gain.decibels() / 20.0)};
}

PowerRatio power_ratio(Gain gain) {
    return PowerRatio{std::pow(10.0, gain.decibels() / 10.0)};
}

namespace {
const VoltsRms dbu_reference{std::sqrt(0.6)};  // 1 mW into 600 ohm
}  // namespace

DbV level_dbv(VoltsRms voltage) {
    return DbV{gain_of(AmplitudeRatio{voltage / VoltsRms{1.0}}).decibels()};
}

DbU level_dbu(VoltsRms voltage) {
    return DbU{gain_of(AmplitudeRatio{voltage / dbu_reference}).decibels()};
}

DbW level_dbw(Watts power) {
    return DbW{gain_of(PowerRatio{power / Watts{1.0}}).decibels()};
}

VoltsRms voltage_at(DbV level) {
    return VoltsRms{amplitude_ratio(Gain{level.decibels()}).in<AmplitudeRatio>()};
}

VoltsRms voltage_at(DbU level) {
    return amplitude_ratio(Gain{level.decibels()}).in<AmplitudeRatio>() * dbu_reference;
}

Watts power_at(DbW level) {
    return Watts{power_ratio(Gain{level.decibels()}).in<PowerRatio>()};
}

VoltsRms voltage_at(DbFs level, VoltsPeak full_scale) {
    return amplitude_ratio(Gain{level.decibels()}).in<AmplitudeRatio>() * rms_of_sine(full_scale);
}

bool same_load(Ohms one, Ohms other) {
    constexpr double slack = 0.05;
    return std::abs(one / other - 1.0) <= slack;
}

}  // namespace afterload
