#include "analysis/stimulus.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>

namespace afterload {

Stimulus silence() {
    return {};
}

Stimulus tone(Hertz frequency, VoltsRms level, bool left, bool right) {
    const Partial sine{frequency, peak_of_sine(level), Radians{-std::numbers::pi / 2}};
    Stimulus stimulus;
    if (left) {
        stimulus.channels[0].push_back(sine);
    }
    if (right) {
        stimulus.channels[1].push_back(sine);
    }
    return stimulus;
}

namespace {

// A sine by rotation, restarted from its exact phase every block. Blocks lie on a fixed grid
// counted from the start of the stimulus, so that the samples do not depend on how a record was cut
// into calls. Several lanes turn side by side: the compiler makes vectors of them.
constexpr std::int64_t lanes = 8;
constexpr std::int64_t block_frames = 64;

using Block = std::array<double, block_frames>;
using Lanes = std::array<double, lanes>;

/// One partial on one clock, sampled block by block.
class Oscillator {
public:
    Oscillator(const Partial& partial, double rate)
        : cycles_{partial.frequency.in<Hertz>() / rate},
          cycles_rest_{std::fma(-cycles_, rate, partial.frequency.in<Hertz>()) / rate},
          amplitude_{partial.amplitude.in<VoltsPeak>()},
          phase_{partial.phase.in<Radians>()},
          turn_cos_{std::cos(angle(lanes))},
          turn_sin_{std::sin(angle(lanes))} {
        for (std::size_t i = 0; i < lanes; ++i) {
            lane_cos_[i] = std::cos(angle(static_cast<std::int64_t>(i)));
            lane_sin_[i] = std::sin(angle(static_cast<std::int64_t>(i)));
        }
    }

    void sample(std::int64_t start, Block& block) const {
        const double begin = angle(start) + phase_;
        const double c = amplitude_ * std::cos(begin);
        const double s = amplitude_ * std::sin(begin);
        Lanes along{};
        Lanes across{};
        for (std::size_t i = 0; i < lanes; ++i) {
            along[i] = c * lane_cos_[i] - s * lane_sin_[i];
            across[i] = s * lane_cos_[i] + c * lane_sin_[i];
        }
        for (std::size_t at = 0; at < block.size(); at += lanes) {
            for (std::size_t i = 0; i < lanes; ++i) {
                block[at + i] = along[i];
                const double turned = along[i] * turn_cos_ - across[i] * turn_sin_;
                across[i] = along[i] * turn_sin_ + across[i] * turn_cos_;
                along[i] = turned;
            }
        }
    }

private:
    // Cycles a frame is kept as an unevaluated sum of two doubles: hours of it keep sixteen digits.
    [[nodiscard]] double angle(std::int64_t frames) const {
        const auto n = static_cast<double>(frames);
        const double whole = n * cycles_;
        const double rest = std::fma(n, cycles_, -whole) + n * cycles_rest_;
        return 2.0 * std::numbers::pi * ((whole - std::floor(whole)) + rest);
    }

    double cycles_;
    double cycles_rest_;
    double amplitude_;
    double phase_;
    double turn_cos_;
    double turn_sin_;
    Lanes lane_cos_{};
    Lanes lane_sin_{};
};

std::int64_t block_start(std::int64_t frame) {
    const std::int64_t past = frame % block_frames;
    return frame - (past < 0 ? past + block_frames : past);
}

}  // namespace

void add_samples(std::span<const Partial> partials, SampleRate rate, double clock_ppm, Frames first,
                 std::span<double> out) {
    const double nominal = rate.frequency().in<Hertz>();
    const double true_rate = nominal + nominal * clock_ppm * 1e-6;
    const std::int64_t begin = first.count();
    const std::int64_t end = begin + static_cast<std::int64_t>(out.size());
    Block block{};
    for (const Partial& partial : partials) {
        const Oscillator oscillator{partial, true_rate};
        for (std::int64_t start = block_start(begin); start < end; start += block_frames) {
            oscillator.sample(start, block);
            const std::int64_t from = std::max(start, begin);
            const std::int64_t to = std::min(start + block_frames, end);
            for (std::int64_t frame = from; frame < to; ++frame) {
                out[static_cast<std::size_t>(frame - begin)] +=
                    block[static_cast<std::size_t>(frame - start)];
            }
        }
    }
}

}  // namespace afterload
