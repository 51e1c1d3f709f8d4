#include "runner/soak/soak_player.hpp"

#include "analysis/pink_noise.hpp"
#include "analysis/same_sound.hpp"
#include "analysis/transform.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::runner {

using instruments::Task;

namespace {

constexpr double noise_seconds = 5.4;
constexpr double noise_crest = 4.0;
constexpr std::uint64_t noise_seed = 20260302;  // one noise for all soaks: runs compare

double rms_of(const std::vector<double>& samples) {
    double sum = 0.0;
    for (const double sample : samples) {
        sum += sample * sample;
    }
    return std::sqrt(sum / static_cast<double>(samples.size()));
}

}  // namespace

SoakLoop pink_soak_loop(SampleRate rate) {
    const double hertz = rate.frequency().in<Hertz>();
    const std::size_t length =
        analysis::good_length_at_most(static_cast<std::size_t>(noise_seconds * hertz));
    const Band band{Hertz{20.0}, Hertz{std::min(20e3, 0.42 * hertz)}};
    const auto samples = std::make_shared<const std::vector<double>>(
        analysis::pink_noise_loop(length, rate, band, noise_crest, noise_seed));
    const double rms = rms_of(*samples);
    return {{samples, samples}, {rms, rms}};
}

Task<RunResult<void>> SoakPlayer::play(What what, std::array<double, 2> drive,
                                       std::array<double, 2> output) {
    StimulusDrive wanted;
    ExpectedOutput expected{};
    Loop loop;
    loop.rate = rate_;
    for (std::size_t c = 0; c < 2; ++c) {
        if (drive[c] <= 0.0) {
            continue;
        }
        if (what == What::sine) {
            wanted.stimulus.channels[c].push_back(
                {frequency_, peak_of_sine(VoltsRms{drive[c]}), Radians{-0.5 * std::numbers::pi}});
            wanted.volts[c] = drive[c];
            expected[c] = output[c];
        } else if (what == What::loop && loop_.rms[c] > 0.0) {
            loop.samples[c] = loop_.samples[c];
            loop.amplitude[c] = VoltsPeak{drive[c] / loop_.rms[c]};
            // Driver holds its limits against a sine of the same peak.
            const double of_sine = 1.0 / (std::numbers::sqrt2 * loop_.rms[c]);
            wanted.volts[c] = of_sine * drive[c];
            expected[c] = of_sine * output[c];
        }
    }
    if (what == What::loop && loop_.samples[0] != nullptr) {
        wanted.stimulus.loop = loop;
    }
    Stimulus stimulus = wanted.stimulus;
    const auto played = co_await driver_.play(std::move(wanted), expected);
    if (!played) {
        co_return played;
    }
    since_ = same_sound(playing_, stimulus) ? since_ : 0;
    playing_ = std::move(stimulus);
    what_ = what;
    drive_ = drive;
    co_return RunResult<void>{};
}

Task<RunResult<void>> SoakPlayer::mute() {
    const auto muted = co_await driver_.mute();
    if (!muted) {
        co_return muted;
    }
    playing_ = {};
    what_ = What::nothing;
    drive_ = {};
    since_ = 0;
    co_return muted;
}

double SoakPlayer::crest(What what) const {
    const double rms = std::max(loop_.rms[0], loop_.rms[1]);
    return what == What::loop && rms > 0.0 ? 1.0 / (std::numbers::sqrt2 * rms) : 1.0;
}

analysis::WatchedStimulus SoakPlayer::watched() const {
    switch (what_) {
        case What::sine:
            return {analysis::WatchedStimulus::Kind::tone, frequency_};
        case What::loop:
            return {analysis::WatchedStimulus::Kind::signal, std::nullopt};
        case What::nothing:
            break;
    }
    return {analysis::WatchedStimulus::Kind::silence, std::nullopt};
}

void SoakPlayer::render(std::span<double> left, std::span<double> right) {
    const std::array<std::span<double>, 2> outs{left, right};
    for (std::size_t c = 0; c < 2; ++c) {
        std::fill(outs[c].begin(), outs[c].end(), 0.0);
        add_samples(playing_, c, rate_, 0.0, Frames{since_}, outs[c]);
    }
    since_ += static_cast<std::int64_t>(left.size());
}

}  // namespace afterload::runner
