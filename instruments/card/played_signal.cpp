#include "instruments/card/played_signal.hpp"

#include "analysis/same_sound.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <numbers>
#include <utility>
#include <vector>

namespace afterload::instruments {

namespace {

/// From 0 to 1 over `length` frames, a raised cosine.
double rise(std::int64_t frame, std::int64_t length) {
    if (frame <= 0) {
        return 0.0;
    }
    if (frame >= length) {
        return 1.0;
    }
    const double share = static_cast<double>(frame) / static_cast<double>(length);
    return 0.5 - 0.5 * std::cos(std::numbers::pi * share);
}

}  // namespace

PlayedSignal::PlayedSignal(SampleRate rate) : rate_{rate}, fade_{frames_in(Seconds{0.005}, rate)} {}

void PlayedSignal::change(Stimulus next, Frames at) {
    const bool goes_on = now_.passing.silent() && same_sound(now_.steady, next);
    before_ = std::move(now_);
    now_ = Played{};
    now_.since = goes_on ? before_.since : at;
    changed_ = at;
    now_.steady.channels = std::move(next.channels);
    now_.steady.loop = std::move(next.loop);
    now_.passing.bursts = std::move(next.bursts);
    now_.passing.sweeps = std::move(next.sweeps);
}

void PlayedSignal::add(const Played& played, std::size_t channel, Frames first,
                       std::span<double> out, bool rising) const {
    const Frames since{first.count() - played.since.count()};
    std::vector<double> steady(out.size(), 0.0);
    add_samples(played.steady, channel, rate_, 0.0, since, steady);
    std::vector<double> passing(out.size(), 0.0);
    if (!played.passing.silent()) {
        add_samples(played.passing, channel, rate_, 0.0, since, passing);
    }
    for (std::size_t n = 0; n < out.size(); ++n) {
        const std::int64_t after = first.count() + static_cast<std::int64_t>(n) - changed_.count();
        const double risen = rise(after, fade_.count());
        if (rising) {
            out[n] += after >= 0 ? risen * steady[n] + passing[n] : 0.0;
        } else {
            out[n] += (1.0 - risen) * (steady[n] + passing[n]);
        }
    }
}

void PlayedSignal::fill(Frames first, std::span<double> left, std::span<double> right) const {
    const std::array<std::span<double>, 2> outs{left, right};
    const bool over = first.count() >= changed_.count() + fade_.count();
    for (std::size_t channel = 0; channel < outs.size(); ++channel) {
        std::fill(outs[channel].begin(), outs[channel].end(), 0.0);
        add(now_, channel, first, outs[channel], true);
        if (!over) {
            add(before_, channel, first, outs[channel], false);
        }
    }
}

}  // namespace afterload::instruments
