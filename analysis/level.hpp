/// Gains and levels in decibels: the only logarithms of the project.
///
/// A gain (dB) has no reference and is a difference; a level (dBV, dBu, dBW, dBFS) has one and is a
/// point. Level + gain = level, level - level of one reference = gain, level + level does not
/// compile. The 20 of voltages and the 10 of powers each stand once, in level.cpp.
///
/// Zero has no level: a function that turns a quantity into decibels returns minus infinity for
/// zero and the caller must have decided what silence means. Nobody invents a floor here.
#pragma once

#include "analysis/quantity.hpp"

#include <compare>

namespace afterload {

/// A ratio in decibels, without a reference.
class Gain {
public:
    constexpr Gain() = default;
    explicit constexpr Gain(double decibels) : decibels_{decibels} {}
    [[nodiscard]] constexpr double decibels() const { return decibels_; }
    constexpr auto operator<=>(const Gain&) const = default;
    constexpr Gain operator-() const { return Gain{-decibels_}; }
    friend constexpr Gain operator+(Gain a, Gain b) { return Gain{a.decibels_ + b.decibels_}; }
    friend constexpr Gain operator-(Gain a, Gain b) { return Gain{a.decibels_ - b.decibels_}; }

private:
    double decibels_ = 0.0;
};

/// A level in decibels above `Reference`.
template <class Reference>
class Level {
public:
    constexpr Level() = default;
    explicit constexpr Level(double decibels) : decibels_{decibels} {}
    [[nodiscard]] constexpr double decibels() const { return decibels_; }
    constexpr auto operator<=>(const Level&) const = default;
    friend constexpr Level operator+(Level l, Gain g) { return Level{l.decibels_ + g.decibels()}; }
    friend constexpr Level operator+(Gain g, Level l) { return l + g; }
    friend constexpr Level operator-(Level l, Gain g) { return Level{l.decibels_ - g.decibels()}; }
    friend constexpr Gain operator-(Level a, Level b) { return Gain{a.decibels_ - b.decibels_}; }

private:
    double decibels_ = 0.0;
};

using DbV = Level<struct OneVoltRms>;            ///< re 1 V rms
using DbU = Level<struct RootPointSixVoltsRms>;  ///< re √0.6 V rms = 0.774597 V
using DbW = Level<struct OneWatt>;               ///< re 1 W
using DbFs = Level<struct FullScaleSine>;  ///< re a sine whose peak is digital full scale (AES17):
                                           ///< a full-scale square is +3.01 dBFS

/// A ratio of voltages as a gain: 20 lg. Minus infinity for zero.
[[nodiscard]] Gain gain_of(AmplitudeRatio ratio);
/// A ratio of powers as a gain: 10 lg. Minus infinity for zero.
[[nodiscard]] Gain gain_of(PowerRatio ratio);
[[nodiscard]] AmplitudeRatio amplitude_ratio(Gain gain);
[[nodiscard]] PowerRatio power_ratio(Gain gain);

[[nodiscard]] DbV level_dbv(VoltsRms voltage);
[[nodiscard]] DbU level_dbu(VoltsRms voltage);
[[nodiscard]] DbW level_dbw(Watts power);
[[nodiscard]] VoltsRms voltage_at(DbV level);
[[nodiscard]] VoltsRms voltage_at(DbU level);
[[nodiscard]] Watts power_at(DbW level);
/// Rms of a sine at `level` on a converter whose digital full scale is `full_scale` at its
/// terminals.
[[nodiscard]] VoltsRms voltage_at(DbFs level, VoltsPeak full_scale);

/// Are they loads of one kind? Within 5 %, as the load of a rating is.
[[nodiscard]] bool same_load(Ohms one, Ohms other);

}  // namespace afterload
