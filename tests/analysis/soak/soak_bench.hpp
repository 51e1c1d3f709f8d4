/// A source, a healthy two-channel unit and what can happen to it, sample by sample: for watches of
/// any length.
#pragma once

#include "analysis/soak/stimulus_watch.hpp"

#include <array>
#include <cmath>
#include <cstdint>
#include <deque>
#include <functional>
#include <numbers>
#include <ostream>
#include <random>
#include <vector>

namespace afterload::analysis::test {

/// Pink noise of about 1 V rms from 20 Hz up: white noise through six first-order low passes, an
/// octave and a half apart, whose corners' squares add up to 1/f within 0.3 dB.
class PinkNoise {
public:
    explicit PinkNoise(double rate, std::uint64_t seed) : engine_{seed} {
        for (std::size_t i = 0; i < corners; ++i) {
            const double corner = 12.0 * std::pow(4.0, static_cast<double>(i));
            pole_[i] = std::exp(-2.0 * std::numbers::pi * corner / rate);
            weight_[i] = (1.0 - pole_[i]) / std::sqrt(corner) * 50.0;
        }
        high_ = std::exp(-2.0 * std::numbers::pi * 20.0 / rate);
    }
    double operator()() {
        const double white = normal_(engine_);
        double sum = 0.0;
        for (std::size_t i = 0; i < corners; ++i) {
            state_[i] = pole_[i] * state_[i] + weight_[i] * white;
            sum += state_[i];
        }
        out_ = high_ * (out_ + sum - before_);
        before_ = sum;
        return 0.12 * out_;
    }

private:
    static constexpr std::size_t corners = 6;
    std::mt19937_64 engine_;
    std::normal_distribution<double> normal_{0.0, 1.0};
    std::array<double, corners> pole_{};
    std::array<double, corners> weight_{};
    std::array<double, corners> state_{};
    double high_ = 0.0;
    double out_ = 0.0;
    double before_ = 0.0;
};

/// Something like music: chords whose notes swell and fade, bursts of noise on a beat, and a pause
/// of half a second at times.
class MusicLike {
public:
    MusicLike(double rate, std::uint64_t seed)
        : rate_{rate}, engine_{seed}, noise_{rate, seed + 1} {
        new_chord();
    }
    double operator()() {
        const double t = static_cast<double>(n_++) / rate_;
        if (t - chord_at_ > chord_s_) {
            chord_at_ = t;
            new_chord();
        }
        const double into = t - chord_at_;
        // The notes swell over 30 ms and ring out.
        const double swell = std::min(1.0, into / 0.03) * std::exp(-into / 0.6);
        double sum = 0.0;
        for (Note& note : notes_) {
            note.phase += note.turn;
            note.phase -= std::floor(note.phase);
            const double w = 2.0 * std::numbers::pi * note.phase;
            sum += note.level * (std::sin(w) + 0.4 * std::sin(2.0 * w) + 0.2 * std::sin(3.0 * w));
        }
        const double beat = std::fmod(t, 0.4);
        const double drum = std::exp(-beat / 0.03) * 0.5 * noise_();
        const bool pause = chord_ % 9 == 8;
        const double fade = pause ? std::exp(-into / 0.01) : std::min(1.0, into / 0.005 + 0.2);
        return fade * (0.35 * swell * sum + (pause ? 0.0 : drum));
    }

private:
    struct Note {
        double turn = 0.0;
        double phase = 0.0;
        double level = 0.0;
    };
    void new_chord() {
        ++chord_;
        chord_s_ = 0.3 + 0.5 * uniform_(engine_);
        notes_.clear();
        for (int i = 0; i < 5; ++i) {
            const double semitone = std::floor(uniform_(engine_) * 60.0);
            notes_.push_back({55.0 * std::pow(2.0, semitone / 12.0) / rate_, uniform_(engine_),
                              0.3 + 0.7 * uniform_(engine_)});
        }
    }
    double rate_;
    std::mt19937_64 engine_;
    PinkNoise noise_;
    std::uniform_real_distribution<double> uniform_{0.0, 1.0};
    std::vector<Note> notes_;
    std::int64_t n_ = 0;
    int chord_ = 0;
    double chord_at_ = 0.0;
    double chord_s_ = 0.0;
};

/// One channel of a healthy amplifier: 20 times, coupling at 3.4 Hz, a tone control that lifts the
/// lows by `lows` (0.05: 0.4 dB below 150 Hz), 70 kHz at the top, a little third order, noise, hum.
class HealthyChannel {
public:
    HealthyChannel(double rate, std::uint64_t seed, double gain = 20.0, double lows = 0.05)
        : gain_{gain}, lows_{lows}, rate_{rate}, engine_{seed} {
        coupling_ = std::exp(-2.0 * std::numbers::pi * 3.4 / rate);
        shelf_ = 1.0 - std::exp(-2.0 * std::numbers::pi * 150.0 / rate);
        top_ = std::min(0.95, 1.0 - std::exp(-2.0 * std::numbers::pi * 70e3 / rate));
    }
    double operator()(double x) {
        coupled_ = coupling_ * (coupled_ + x - before_);
        before_ = x;
        low_ += shelf_ * (coupled_ - low_);
        const double shaped = coupled_ + lows_ * low_;
        out_ += top_ * (shaped - out_);
        const double hum = hum_volts * std::sqrt(2.0) *
                           std::sin(2.0 * std::numbers::pi * 50.0 *
                                    std::fmod(static_cast<double>(n_++), rate_) / rate_);
        return gain_ * (out_ - 1e-4 * out_ * out_ * out_) + hum + noise_volts * normal_(engine_);
    }
    double hum_volts = 2e-4;
    double noise_volts = 3e-4;

private:
    double gain_;
    double lows_;
    double rate_;
    std::mt19937_64 engine_;
    std::normal_distribution<double> normal_{0.0, 1.0};
    double coupling_ = 0.0;
    double shelf_ = 0.0;
    double top_ = 0.0;
    double coupled_ = 0.0;
    double before_ = 0.0;
    double low_ = 0.0;
    double out_ = 0.0;
    std::int64_t n_ = 0;
};

/// Source, unit, and a card with a latency; what happens is done to the samples on their way.
class SoakBench {
public:
    using Source = std::function<double()>;
    /// Changes the two samples of frame n on their way from the unit to the card.
    using Happening = std::function<void(std::int64_t n, double& left, double& right)>;

    SoakBench(double rate, Source source, WatchedStimulus stimulus, std::int64_t latency = 0,
              double full_scale = 60.0)
        : rate_{rate},
          source_{std::move(source)},
          latency_{latency},
          left_{rate, 101},
          right_{rate, 202, 20.3, 0.03},
          watch_{settings(rate, full_scale), stimulus},
          full_scale_{full_scale} {}

    static StimulusWatchSettings settings(double rate, double full_scale) {
        StimulusWatchSettings result;
        result.rate = SampleRate{rate};
        result.full_scale.assign(2, VoltsPeak{full_scale});
        result.mains = Hertz{50.0};
        return result;
    }

    /// Plays for so long, in blocks of 1000 frames; events are told with the time at which they
    /// were.
    void play(double seconds) {
        const auto frames = static_cast<std::int64_t>(std::lround(seconds * rate_));
        for (std::int64_t done = 0; done < frames;) {
            const auto count = std::min<std::int64_t>(1000, frames - done);
            std::vector<double> stimulus;
            std::array<std::vector<double>, 2> record;
            for (std::int64_t i = 0; i < count; ++i, ++frame_) {
                const double x = source_();
                stimulus.push_back(x);
                double left = left_(x);
                double right = right_(x);
                if (happening) {
                    happening(frame_, left, right);
                }
                on_its_way_.push_back({left, right});
                std::array<double, 2> heard{};
                if (static_cast<std::int64_t>(on_its_way_.size()) > latency_) {
                    heard = on_its_way_.front();
                    on_its_way_.pop_front();
                }
                for (std::size_t c = 0; c < 2; ++c) {
                    record[c].push_back(std::clamp(heard[c], -full_scale_, full_scale_));
                }
            }
            const std::vector<std::span<const double>> both{record[0], record[1]};
            const std::vector<std::span<const double>> played{stimulus};
            watch_.feed(both, played);
            done += count;
            for (const SoakEvent& event : watch_.take_events()) {
                events.push_back(event);
                told_at.push_back(static_cast<double>(frame_) / rate_);
            }
            for (SoakReading& reading : watch_.take_readings()) {
                readings.push_back(std::move(reading));
            }
        }
    }
    /// The card loses so many frames (below 0: gives so many twice).
    void slip(std::int64_t frames) {
        latency_ -= frames;
        for (; frames > 0; --frames) {
            on_its_way_.pop_front();
        }
        if (frames < 0) {
            const std::deque<std::array<double, 2>> again(on_its_way_.begin(),
                                                          on_its_way_.begin() - frames);
            on_its_way_.insert(on_its_way_.begin(), again.begin(), again.end());
        }
    }
    void finish() {
        watch_.finish();
        for (const SoakEvent& event : watch_.take_events()) {
            events.push_back(event);
            told_at.push_back(static_cast<double>(frame_) / rate_);
        }
    }
    /// Events as they stand at the end: the last that was told of each, those taken back left out.
    [[nodiscard]] std::vector<SoakEvent> at_the_end() const {
        std::vector<SoakEvent> result;
        for (const SoakEvent& event : events) {
            std::erase_if(result, [&](const SoakEvent& other) { return other.id == event.id; });
            if (!event.withdrawn) {
                result.push_back(event);
            }
        }
        return result;
    }
    /// When event `id` was first told.
    [[nodiscard]] double first_told(std::uint64_t id) const {
        for (std::size_t i = 0; i < events.size(); ++i) {
            if (events[i].id == id) {
                return told_at[i];
            }
        }
        return 1e9;
    }

    [[nodiscard]] double now_s() const { return static_cast<double>(frame_) / rate_; }
    [[nodiscard]] std::int64_t frame() const { return frame_; }
    [[nodiscard]] StimulusWatch& watch() { return watch_; }
    HealthyChannel& left() { return left_; }
    HealthyChannel& right() { return right_; }

    Happening happening;
    std::vector<SoakEvent> events;
    std::vector<double> told_at;
    std::vector<SoakReading> readings;

private:
    double rate_;
    Source source_;
    std::int64_t latency_;
    HealthyChannel left_;
    HealthyChannel right_;
    StimulusWatch watch_;
    double full_scale_;
    std::int64_t frame_ = 0;
    std::deque<std::array<double, 2>> on_its_way_;
};

inline WatchedStimulus a_signal() {
    return {WatchedStimulus::Kind::signal, std::nullopt};
}
inline WatchedStimulus a_tone(double hertz) {
    return {WatchedStimulus::Kind::tone, Hertz{hertz}};
}
/// A sine of `volts` peak.
inline SoakBench::Source sine(double rate, double hertz, double volts) {
    return [=, turns = 0.0]() mutable {
        turns += hertz / rate;
        turns -= std::floor(turns);
        return volts * std::sin(2.0 * std::numbers::pi * turns);
    };
}

}  // namespace afterload::analysis::test

namespace afterload::analysis {

/// How a test prints an event.
inline void PrintTo(const SoakEvent& event, std::ostream* out) {
    *out << "\n  " << event.id << ": " << name(event.seen.kind) << " channel " << event.seen.channel
         << " at " << event.seen.start.in<Seconds>() << " s for "
         << event.seen.duration.in<Seconds>() << " s, " << event.seen.size << " "
         << size_unit(event.seen.kind) << (event.lasts ? ", lasts" : "")
         << (event.withdrawn ? ", withdrawn" : "");
}

}  // namespace afterload::analysis
