#include "analysis/stimulus.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>

namespace afterload {

Seconds Sweep::length() const {
    return std::log(high / low) * growth;
}

bool Stimulus::silent() const {
    const auto empty = [](const auto& both) { return both[0].empty() && both[1].empty(); };
    const bool loops =
        loop && (loop->amplitude[0] > VoltsPeak{0.0} || loop->amplitude[1] > VoltsPeak{0.0});
    return empty(channels) && empty(bursts) && empty(sweeps) && !loops;
}

std::optional<Seconds> Stimulus::ends() const {
    if (!channels[0].empty() || !channels[1].empty() || loop) {
        return std::nullopt;
    }
    Seconds last{0.0};
    for (std::size_t c = 0; c < 2; ++c) {
        for (const Burst& burst : bursts[c]) {
            last = std::max(last, burst.start + burst.length);
        }
        for (const Sweep& sweep : sweeps[c]) {
            last = std::max(last, sweep.start + sweep.length());
        }
    }
    return last;
}

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

    /// One sample, from its exact phase.
    [[nodiscard]] double at(std::int64_t frame) const {
        return amplitude_ * std::cos(angle(frame) + phase_);
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

double true_rate_of(SampleRate rate, double clock_ppm) {
    const double nominal = rate.frequency().in<Hertz>();
    return nominal + nominal * clock_ppm * 1e-6;
}

std::int64_t block_start(std::int64_t frame) {
    const std::int64_t past = frame % block_frames;
    return frame - (past < 0 ? past + block_frames : past);
}

}  // namespace

void add_samples(std::span<const Partial> partials, SampleRate rate, double clock_ppm, Frames first,
                 std::span<double> out) {
    const double true_rate = true_rate_of(rate, clock_ppm);
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

namespace {

/// Raised cosine over `fade` from 0; 1 from there on.
double fade_at(double time, double fade) {
    return time >= fade ? 1.0 : 0.5 - 0.5 * std::cos(std::numbers::pi * time / fade);
}

/// The frames of [first, first + count) that lie within `length` of `start`.
struct Sounding {
    std::int64_t from = 0;
    std::int64_t to = 0;
};
Sounding sounding(double start, double length, double true_rate, std::int64_t first,
                  std::size_t count) {
    const auto end = first + static_cast<std::int64_t>(count);
    const double opens = std::clamp(std::ceil(start * true_rate), static_cast<double>(first),
                                    static_cast<double>(end));
    const double closes =
        std::clamp(std::ceil((start + length) * true_rate), opens, static_cast<double>(end));
    return {static_cast<std::int64_t>(opens), static_cast<std::int64_t>(closes)};
}

}  // namespace

void add_samples(std::span<const Burst> bursts, SampleRate rate, double clock_ppm, Frames first,
                 std::span<double> out) {
    const double true_rate = true_rate_of(rate, clock_ppm);
    for (const Burst& burst : bursts) {
        const Oscillator oscillator{burst.partial, true_rate};
        const double start = burst.start.in<Seconds>();
        const double length = burst.length.in<Seconds>();
        const double fade = burst.fade.in<Seconds>();
        const double nepers =
            length > 0.0 ? burst.rise.decibels() / (20.0 * std::numbers::log10e * length) : 0.0;
        const Sounding part = sounding(start, length, true_rate, first.count(), out.size());
        for (std::int64_t frame = part.from; frame < part.to; ++frame) {
            const double time = static_cast<double>(frame) / true_rate - start;
            out[static_cast<std::size_t>(frame - first.count())] +=
                std::exp(nepers * (time - length)) * fade_at(time, fade) *
                fade_at(length - time, fade) * oscillator.at(frame);
        }
    }
}

void add_samples(std::span<const Sweep> sweeps, SampleRate rate, double clock_ppm, Frames first,
                 std::span<double> out) {
    const double true_rate = true_rate_of(rate, clock_ppm);
    for (const Sweep& sweep : sweeps) {
        const double start = sweep.start.in<Seconds>();
        const double length = sweep.length().in<Seconds>();
        const double growth = sweep.growth.in<Seconds>();
        const double cycles = sweep.low.in<Hertz>() * growth;
        const double amplitude = sweep.amplitude.in<VoltsPeak>();
        const Sounding part = sounding(start, length, true_rate, first.count(), out.size());
        for (std::int64_t frame = part.from; frame < part.to; ++frame) {
            const double time = static_cast<double>(frame) / true_rate - start;
            const double turns = cycles * std::exp(time / growth);
            const double envelope = fade_at(time, sweep.fade_in.in<Seconds>()) *
                                    fade_at(length - time, sweep.fade_out.in<Seconds>());
            out[static_cast<std::size_t>(frame - first.count())] +=
                amplitude * envelope *
                std::sin(2.0 * std::numbers::pi * (turns - std::floor(turns)));
        }
    }
}

namespace {

constexpr std::int64_t taps = 32;
constexpr std::int64_t phases = 512;

/// Windowed sinc at every 512th of a sample; between two of them a straight line.
const std::vector<std::array<double, taps>>& interpolation() {
    static const std::vector<std::array<double, taps>> table = [] {
        constexpr double pi = std::numbers::pi;
        std::vector<std::array<double, taps>> made(phases + 1);
        for (std::int64_t p = 0; p <= phases; ++p) {
            const double late = static_cast<double>(p) / static_cast<double>(phases);
            double sum = 0.0;
            for (std::int64_t k = 0; k < taps; ++k) {
                const double x = static_cast<double>(k - (taps / 2 - 1)) - late;
                const double sinc = x == 0.0 ? 1.0 : std::sin(pi * x) / (pi * x);
                // Blackman and Harris 1978, four terms: -92 dB.
                const double w =
                    2.0 * pi * (x + 0.5 * static_cast<double>(taps)) / static_cast<double>(taps);
                const double window = 0.35875 - 0.48829 * std::cos(w) +
                                      0.14128 * std::cos(2.0 * w) - 0.01168 * std::cos(3.0 * w);
                made[static_cast<std::size_t>(p)][static_cast<std::size_t>(k)] = sinc * window;
                sum += sinc * window;
            }
            for (double& tap : made[static_cast<std::size_t>(p)]) {
                tap /= sum;
            }
        }
        return made;
    }();
    return table;
}

std::int64_t around(std::int64_t index, std::int64_t length) {
    const std::int64_t past = index % length;
    return past < 0 ? past + length : past;
}

}  // namespace

void add_samples(const Loop& loop, std::size_t channel, SampleRate rate, double clock_ppm,
                 Frames first, std::span<double> out) {
    const double amplitude = loop.amplitude[channel].in<VoltsPeak>();
    if (loop.samples[channel] == nullptr || loop.samples[channel]->empty() || amplitude == 0.0) {
        return;
    }
    const std::vector<double>& samples = *loop.samples[channel];
    const auto length = static_cast<std::int64_t>(samples.size());
    if (loop.rate == rate && clock_ppm == 0.0) {
        std::int64_t at = around(first.count(), length);
        for (double& sample : out) {
            sample += amplitude * samples[static_cast<std::size_t>(at)];
            at = at + 1 == length ? 0 : at + 1;
        }
        return;
    }
    const double step = loop.rate.frequency().in<Hertz>() / true_rate_of(rate, clock_ppm);
    const auto& table = interpolation();
    for (std::size_t i = 0; i < out.size(); ++i) {
        const double moment =
            static_cast<double>(first.count() + static_cast<std::int64_t>(i)) * step;
        const double whole = std::floor(moment);
        const double phase = (moment - whole) * static_cast<double>(phases);
        const auto p = static_cast<std::size_t>(phase);
        const double share = phase - static_cast<double>(p);
        std::int64_t at = around(static_cast<std::int64_t>(whole) - (taps / 2 - 1), length);
        double sum = 0.0;
        for (std::size_t tap = 0; tap < taps; ++tap) {
            const double weight = table[p][tap] + share * (table[p + 1][tap] - table[p][tap]);
            sum += weight * samples[static_cast<std::size_t>(at)];
            at = at + 1 == length ? 0 : at + 1;
        }
        out[i] += amplitude * sum;
    }
}

void add_samples(const Stimulus& stimulus, std::size_t channel, SampleRate rate, double clock_ppm,
                 Frames first, std::span<double> out) {
    if (stimulus.loop) {
        add_samples(*stimulus.loop, channel, rate, clock_ppm, first, out);
    }
    add_samples(stimulus.channels[channel], rate, clock_ppm, first, out);
    add_samples(stimulus.bursts[channel], rate, clock_ppm, first, out);
    add_samples(stimulus.sweeps[channel], rate, clock_ppm, first, out);
}

VoltsPeak largest_peak(const Stimulus& stimulus, std::size_t channel) {
    struct Sound {
        Seconds start;
        Seconds end;
        double peak = 0.0;
    };
    std::vector<Sound> sounds;
    for (const Burst& burst : stimulus.bursts[channel]) {
        sounds.push_back({burst.start, burst.start + burst.length,
                          std::abs(burst.partial.amplitude.in<VoltsPeak>())});
    }
    for (const Sweep& sweep : stimulus.sweeps[channel]) {
        sounds.push_back(
            {sweep.start, sweep.start + sweep.length(), std::abs(sweep.amplitude.in<VoltsPeak>())});
    }
    // What sounds together is loudest where one of them begins.
    double largest = 0.0;
    for (const Sound& begins : sounds) {
        double together = 0.0;
        for (const Sound& other : sounds) {
            const bool then = other.start <= begins.start && begins.start < other.end;
            together += then || &other == &begins ? other.peak : 0.0;
        }
        largest = std::max(largest, together);
    }
    for (const Partial& partial : stimulus.channels[channel]) {
        largest += std::abs(partial.amplitude.in<VoltsPeak>());
    }
    if (stimulus.loop) {
        largest += std::abs(stimulus.loop->amplitude[channel].in<VoltsPeak>());
    }
    return VoltsPeak{largest};
}

}  // namespace afterload
