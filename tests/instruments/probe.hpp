// What the tests of the simulated bench look with: one-bin Fourier sums over whole seconds, so that
// every whole hertz is exactly periodic in the record. Independent of analysis/.
#pragma once

#include "instruments/simulated_world.hpp"
#include "instruments/unit_parameters.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstdint>
#include <numbers>
#include <vector>

namespace afterload::instruments::probe {

/// Volts at the terminals as the calibration of `simulation`'s range `range` says.
inline std::vector<double> volts(const std::vector<std::int32_t>& samples,
                                 const Simulation& simulation, std::size_t range) {
    const double step = simulation.ranges.at(range).full_scale.in<VoltsPeak>() /
                        std::ldexp(1.0, simulation.bits - 1);
    std::vector<double> out;
    out.reserve(samples.size());
    for (const std::int32_t sample : samples) {
        out.push_back(step * sample);
    }
    return out;
}

/// Peak and phase of the line at `hertz` (whole) in a record of whole seconds.
inline std::complex<double> line(const std::vector<double>& x, double hertz,
                                 double rate = 48000.0) {
    std::complex<double> sum = 0.0;
    const double turn = 2.0 * std::numbers::pi * hertz / rate;
    for (std::size_t n = 0; n < x.size(); ++n) {
        const double angle = std::remainder(turn * static_cast<double>(n), 2.0 * std::numbers::pi);
        sum += x[n] * std::complex<double>{std::cos(angle), -std::sin(angle)};
    }
    return 2.0 * sum / static_cast<double>(x.size());
}

inline double rms_of_line(const std::vector<double>& x, double hertz, double rate = 48000.0) {
    return std::abs(line(x, hertz, rate)) / std::numbers::sqrt2;
}

/// Harmonics 2 to `highest` below 0.45 of the rate over the fundamental.
inline double thd(const std::vector<double>& x, double hertz, int highest = 15,
                  double rate = 48000.0) {
    double square = 0.0;
    for (int k = 2; k <= highest && k * hertz < 0.45 * rate; ++k) {
        square += std::norm(line(x, k * hertz, rate));
    }
    return std::sqrt(square) / std::abs(line(x, hertz, rate));
}

inline double decibels(double ratio) {
    return 20.0 * std::log10(ratio);
}

/// Rms of everything.
inline double rms(const std::vector<double>& x) {
    double square = 0.0;
    for (const double v : x) {
        square += v * v;
    }
    return std::sqrt(square / static_cast<double>(x.size()));
}

/// A bench without the rig's part: no noise of the card, no distortion of its own, no hum, clocks
/// true.
inline Simulation clean_rig() {
    Simulation simulation;
    simulation.source_distortion = AmplitudeRatio{0.0};
    simulation.input_distortion = AmplitudeRatio{0.0};
    simulation.source_noise = Gain{-200.0};
    simulation.card_noise = DbFs{-200.0};
    simulation.rig_hum = VoltsRms{0.0};
    simulation.mains_wander = 0.0;
    simulation.clock_ppm = 0.0;
    simulation.source_impedance = Ohms{0.0};
    return simulation;
}

/// A world with loads on, playing `drive` volts rms at `hertz` on both channels, settled.
struct Played {
    Simulation simulation;
    SimulatedWorld world;

    Played(const Simulation& settings, double hertz, double drive,
           const UnitControls& controls = {}, bool left = true, bool right = true)
        : simulation{settings}, world{settings} {
        world.set_controls(controls);
        world.connect_load(true);
        world.play(tone(Hertz{hertz}, VoltsRms{drive}, left, right));
        world.advance(Seconds{2.0});
    }
    /// One second of both channels in volts.
    std::vector<std::vector<double>> record(double seconds = 1.0) {
        const auto samples = world.record(frames_in(Seconds{seconds}, simulation.rate));
        return {volts(samples[0], simulation, 0), volts(samples[1], simulation, 0)};
    }
};

/// Drive at the line input for `watts` into 8 ohm with nominal gain.
inline double drive_for(double watts, double gain_decibels = 43.3) {
    return std::sqrt(8.0 * watts) / std::pow(10.0, gain_decibels / 20.0);
}

/// The same with the specimen's own gain, so that neither channel gets more than `watts`.
inline double exact_drive(const Simulation& simulation, double watts) {
    const UnitParameters unit = healthy_unit(simulation);
    double gain = 0.0;
    for (const ChannelParameters& channel : unit.channels) {
        gain = std::max(gain, channel.line_gain / (1.0 + channel.output_ohms_a / 8.0));
    }
    return std::sqrt(8.0 * watts) / gain;
}

}  // namespace afterload::instruments::probe
