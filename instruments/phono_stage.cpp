#include "instruments/phono_stage.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

namespace afterload::instruments {

namespace {

constexpr double bass_pole_seconds = 3180e-6;
constexpr double bass_zero_seconds = 318e-6;
constexpr double treble_pole_seconds = 75e-6;

double corner(double seconds) {
    return 1.0 / (2.0 * std::numbers::pi * seconds);
}

}  // namespace

PhonoStage::PhonoStage(double rate_hertz) : rate_{rate_hertz}, work_(2, 0.0) {}

void PhonoStage::set(const UnitParameters& unit) {
    // What a drifted part changes is the curve and not the gain at 1 kHz of a healthy one.
    const std::complex<double> s{0.0, 2.0 * std::numbers::pi * 1000.0};
    const double at_1_khz =
        std::abs((1.0 + s * bass_zero_seconds) /
                 ((1.0 + s * bass_pole_seconds) * (1.0 + s * treble_pole_seconds)));
    for (std::size_t c = 0; c < 2; ++c) {
        const ChannelParameters& channel = unit.channels[c];
        const double zero = bass_zero_seconds * channel.phono_bass_error;
        const double treble = treble_pole_seconds * channel.phono_treble_error;
        gain_[c] = channel.phono_gain / at_1_khz;
        bass_.set(c, corner(bass_pole_seconds), 1.0, zero / bass_pole_seconds, rate_);
        treble_.set(c, corner(treble), 1.0, 0.0, rate_);
        const double limit =
            std::max(0.01, unit.supply.tone_rail_volts - unit.supply.tone_rail_lost);
        limits_.upper[c] = limit;
        limits_.lower[c] = -limit;
    }
}

void PhonoStage::process(std::span<double> frames) {
    for (std::size_t i = 0; i + 1 < frames.size(); i += 2) {
        frames[i] *= gain_[0];
        frames[i + 1] *= gain_[1];
    }
    bass_.process(frames);
    treble_.process(frames);
    work_.resize(2 + frames.size());
    std::copy(frames.begin(), frames.end(), work_.begin() + 2);
    clipper_.process(work_, limits_);
    std::copy_n(work_.begin(), frames.size(), frames.begin());
    std::copy_n(work_.end() - 2, 2, work_.begin());
}

}  // namespace afterload::instruments
