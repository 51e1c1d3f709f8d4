/// The input of the simulated card: divider, own distortion, anti-alias filter, AC coupling, noise,
/// rounding. Integers saturate at full scale.
#pragma once

#include "instruments/half_band.hpp"
#include "instruments/noise_source.hpp"
#include "instruments/one_pole.hpp"
#include "instruments/simulation.hpp"

#include <array>
#include <cstdint>
#include <span>
#include <vector>

namespace afterload::instruments {

class SoundCardModel {
public:
    explicit SoundCardModel(const Simulation& simulation);

    void select(const SimulatedRange& range);

    /// Terminal volts at twice the rate, bent by the input stage and filtered to the card's rate:
    /// still terminal volts, since noise and hum are yet to be added.
    void take_in(std::span<double> twice, std::span<double> frames);
    /// Terminal volts at the card's rate to integers, one vector a channel, appended.
    void convert(std::span<double> frames, std::vector<std::vector<std::int32_t>>& out);
    /// As convert(), but nothing is kept: the coupling capacitor still follows.
    void pass(std::span<double> frames);

private:
    std::array<double, 2> full_scale_{1.0, 1.0};
    double steps_;
    double distortion_;
    std::array<double, 2> sign_{};
    double noise_;  ///< standard deviation re full scale
    NoiseSource random_;
    RateHalver halver_;
    HighPass coupling_;
};

}  // namespace afterload::instruments
