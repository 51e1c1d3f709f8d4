#include "instruments/sound_card_model.hpp"

#include "instruments/white_noise.hpp"
#include "instruments/wide.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <numbers>

namespace afterload::instruments {

namespace {

/// Volts bent as u + second·u² + third·u³ of u = volts / full scale; the bend ends at 1.2.
AFTERLOAD_WIDE
void bend(double* frames, std::size_t count, const double* full_scale, double second,
          double third) {
    for (std::size_t c = 0; c < 2; ++c) {
        const double scale = 1.0 / full_scale[c];
        for (std::size_t i = 0; i < count; ++i) {
            const double x = frames[2 * i + c];
            const double u = std::max(-1.2, std::min(1.2, scale * x));
            frames[2 * i + c] = x + full_scale[c] * u * u * (second + third * u);
        }
    }
}

}  // namespace

SoundCardModel::SoundCardModel(const Simulation& simulation)
    : steps_{std::ldexp(1.0, simulation.bits - 1)},
      distortion_{simulation.input_distortion.in<AmplitudeRatio>()},
      noise_{
          white_sigma(amplitude_ratio(Gain{simulation.card_noise.decibels()}).in<AmplitudeRatio>() /
                          std::numbers::sqrt2,
                      simulation.rate.frequency().in<Hertz>())},
      random_{simulation.run_seed, 0x63617264U},
      halver_{half_band_taps(0.2268, 116.0)} {
    NoiseSource drawn{simulation.rig_seed, 0x63617265U};
    for (double& sign : sign_) {
        sign = drawn.uniform() < 0.5 ? -1.0 : 1.0;
    }
    for (std::size_t c = 0; c < 2; ++c) {
        coupling_.set(c, simulation.ac_corner.in<Hertz>(), simulation.rate.frequency().in<Hertz>());
    }
    select(simulation.ranges.front());
}

void SoundCardModel::select(const SimulatedRange& range) {
    for (std::size_t c = 0; c < 2; ++c) {
        full_scale_[c] = range.full_scale.in<VoltsPeak>() * (1.0 + range.error[c]);
    }
}

void SoundCardModel::take_in(std::span<double> twice, std::span<double> frames) {
    // Harmonics of a sine of half full scale: second/4 and third/16, as 0.8 to 0.6.
    bend(twice.data(), twice.size() / 2, full_scale_.data(), sign_[0] * 3.2 * distortion_,
         sign_[1] * 9.6 * distortion_);
    halver_.process(twice, frames);
}

void SoundCardModel::convert(std::span<double> frames,
                             std::vector<std::vector<std::int32_t>>& out) {
    coupling_.process(frames);
    for (std::size_t c = 0; c < 2; ++c) {
        random_.add_to(frames.subspan(c), 2, noise_ * full_scale_[c]);
        const double scale = steps_ / full_scale_[c];
        for (std::size_t i = c; i < frames.size(); i += 2) {
            const double step = std::nearbyint(scale * frames[i]);
            out[c].push_back(
                static_cast<std::int32_t>(std::max(-steps_, std::min(steps_ - 1.0, step))));
        }
    }
}

void SoundCardModel::pass(std::span<double> frames) {
    coupling_.process(frames);
}

}  // namespace afterload::instruments
