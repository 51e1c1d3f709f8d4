#include "instruments/playable.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

namespace afterload::instruments {

namespace {

BenchFailure refused(std::string instrument, std::string asked, std::string answered) {
    return BenchFailure{BenchFailure::Kind::refused, std::move(instrument), std::move(asked),
                        std::move(answered), Seconds{0.0}};
}

/// Largest magnitude of what a channel plays: the bound by its amplitudes where that is no more
/// than `enough` or belongs to one sine, else the largest sample until it ends, of one second at
/// the least.
double peak_of(const Stimulus& stimulus, std::size_t channel, SampleRate rate, double enough) {
    const double bound = largest_peak(stimulus, channel).in<VoltsPeak>();
    const std::size_t sounds = stimulus.channels[channel].size() + stimulus.bursts[channel].size() +
                               stimulus.sweeps[channel].size();
    if (sounds < 2 || bound <= enough) {
        return bound;
    }
    Stimulus passing = stimulus;
    passing.channels = {};
    passing.loop.reset();
    constexpr double longest = 600.0;  // the samples are held in memory
    const double seconds = std::clamp(passing.ends()->in<Seconds>(), 1.0, longest);
    std::vector<double> samples(static_cast<std::size_t>(seconds * rate.frequency().in<Hertz>()));
    add_samples(stimulus, channel, rate, 0.0, Frames{0}, samples);
    double peak = 0.0;
    for (const double volts : samples) {
        peak = std::max(peak, std::abs(volts));
    }
    return peak;
}

bool playable(const Partial& partial, SampleRate rate) {
    return std::isfinite(partial.amplitude.in<VoltsPeak>()) &&
           std::isfinite(partial.phase.in<Radians>()) && partial.frequency >= Hertz{0.0} &&
           partial.frequency <= rate.nyquist();
}

bool playable(const Burst& burst, SampleRate rate) {
    return playable(burst.partial, rate) && burst.start >= Seconds{0.0} &&
           std::isfinite((burst.start + burst.length).in<Seconds>()) &&
           burst.fade >= Seconds{0.0} && burst.length >= 2.0 * burst.fade;
}

bool playable(const Sweep& sweep, SampleRate rate) {
    const Seconds length = sweep.length();
    return std::isfinite(sweep.amplitude.in<VoltsPeak>()) && sweep.low > Hertz{0.0} &&
           sweep.high > sweep.low && sweep.high <= rate.nyquist() && sweep.start >= Seconds{0.0} &&
           std::isfinite((sweep.start + length).in<Seconds>()) && sweep.growth > Seconds{0.0} &&
           sweep.fade_in >= Seconds{0.0} && sweep.fade_out >= Seconds{0.0} &&
           sweep.fade_in + sweep.fade_out <= length;
}

bool playable(const Loop& loop, std::size_t channel, SampleRate rate) {
    const double amplitude = loop.amplitude[channel].in<VoltsPeak>();
    const auto& samples = loop.samples[channel];
    return loop.rate == rate && std::isfinite(amplitude) && amplitude >= 0.0 &&
           (amplitude == 0.0 || (samples != nullptr && !samples->empty()));
}

/// Why channel `channel` of `stimulus` cannot be played; nothing if it can.
std::optional<BenchFailure> refusal(const Stimulus& stimulus, std::size_t channel, SampleRate rate,
                                    const std::string& identity) {
    const auto cannot = [&](const char* asked, Hertz frequency) {
        return refused(
            identity, fmt::format(fmt::runtime(asked), frequency.in<Hertz>()),
            fmt::format("it plays finite sines up to {:.6g} Hz", rate.nyquist().in<Hertz>()));
    };
    for (const Partial& partial : stimulus.channels[channel]) {
        if (!playable(partial, rate)) {
            return cannot("play a partial at {:.6g} Hz", partial.frequency);
        }
    }
    for (const Burst& burst : stimulus.bursts[channel]) {
        if (!playable(burst, rate)) {
            return cannot("play a burst at {:.6g} Hz", burst.partial.frequency);
        }
    }
    for (const Sweep& sweep : stimulus.sweeps[channel]) {
        if (!playable(sweep, rate)) {
            return cannot("play a sweep up to {:.6g} Hz", sweep.high);
        }
    }
    if (stimulus.loop && !playable(*stimulus.loop, channel, rate)) {
        return refused(identity, "play a loop",
                       fmt::format("it plays loops of finite samples at {:.6g} Hz",
                                   rate.frequency().in<Hertz>()));
    }
    return std::nullopt;
}

/// Is one steady sine, the same on both channels, all of `stimulus`?
bool is_one_sine(const Stimulus& stimulus) {
    const auto& [left, right] = stimulus.channels;
    for (std::size_t c = 0; c < 2; ++c) {
        if (!stimulus.bursts[c].empty() || !stimulus.sweeps[c].empty() || stimulus.loop) {
            return false;
        }
    }
    return left.size() == 1 && right.size() == 1 && left[0].frequency == right[0].frequency &&
           left[0].amplitude == right[0].amplitude;
}

}  // namespace

std::optional<BenchFailure> cannot_play(const Stimulus& stimulus, SampleRate rate,
                                        VoltsPeak full_scale, const std::string& instrument) {
    const double highest = full_scale.in<VoltsPeak>();
    for (std::size_t c = 0; c < 2; ++c) {
        if (auto why = refusal(stimulus, c, rate, instrument)) {
            return why;
        }
        const double peak = peak_of(stimulus, c, rate, highest);
        if (peak > highest * (1.0 + 1e-9)) {
            return refused(instrument, fmt::format("play {:.4g} V peak", peak),
                           fmt::format("its full scale is {:.4g} V peak", highest));
        }
    }
    return std::nullopt;
}

std::optional<BenchFailure> generator_cannot_play(const Stimulus& stimulus, VoltsPeak full_scale,
                                                  const std::string& instrument) {
    if (!is_one_sine(stimulus)) {
        return refused(instrument, "play",
                       "it plays one sine on both channels at once; sweeps, multitones and single "
                       "channels come from the card");
    }
    // A generator has no sample rate; a hundred megahertz stand for "any tone of this trade".
    return cannot_play(stimulus, SampleRate{2e8}, full_scale, instrument);
}

}  // namespace afterload::instruments
