#include "instruments/source_model.hpp"

#include "analysis/same_sound.hpp"
#include "instruments/white_noise.hpp"
#include "instruments/wide.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>

namespace afterload::instruments {

namespace {

constexpr std::size_t rendered_at_once = 2048;
constexpr std::int64_t tail_frames = 256;  // longer than the filter that doubles the rate

/// x + second·x² + third·x³.
AFTERLOAD_WIDE
void bend(double* frames, std::size_t count, const double* second, const double* third) {
    const Wide b{second[0], second[1], second[0], second[1]};
    const Wide c{third[0], third[1], third[0], third[1]};
    std::size_t i = 0;
    for (; i + 2 <= count; i += 2) {
        Wide x;
        std::memcpy(&x, frames + 2 * i, sizeof x);
        x += x * x * (b + c * x);
        std::memcpy(frames + 2 * i, &x, sizeof x);
    }
    for (; i < count; ++i) {
        for (std::size_t k = 0; k < 2; ++k) {
            double& x = frames[2 * i + k];
            x += x * x * (second[k] + third[k] * x);
        }
    }
}

}  // namespace

SourceModel::SourceModel(const Simulation& simulation)
    : rate_{simulation.rate},
      clock_ppm_{simulation.source_clock_ppm},
      noise_ratio_{white_sigma(amplitude_ratio(simulation.source_noise).in<AmplitudeRatio>(),
                               simulation.rate.frequency().in<Hertz>())},
      distortion_{simulation.source_distortion.in<AmplitudeRatio>()},
      level_{1.0 + simulation.source_level_error},
      random_{simulation.run_seed, 0x73726365U},
      doubler_{half_band_taps(0.2268, 116.0)} {
    NoiseSource drawn{simulation.rig_seed, 0x73726364U};
    for (double& sign : sign_) {
        sign = drawn.uniform() < 0.5 ? -1.0 : 1.0;
    }
    for (std::vector<double>& channel : ahead_) {
        channel.resize(rendered_at_once);
    }
}

void SourceModel::hand_over(const Simulation& simulation, bool to_generator) {
    if (to_generator) {
        clock_ppm_ = simulation.generator->clock_ppm;
        distortion_ = simulation.generator->distortion.in<AmplitudeRatio>();
        level_ = 1.0 + simulation.generator->level_error;
    } else {
        clock_ppm_ = simulation.source_clock_ppm;
        distortion_ = simulation.source_distortion.in<AmplitudeRatio>();
        level_ = 1.0 + simulation.source_level_error;
    }
}

void SourceModel::freeze(std::int64_t frames, std::int64_t now) {
    if (frames <= 0) {
        may_freeze_ = true;
        return;
    }
    if (may_freeze_ && playing()) {
        may_freeze_ = false;
        frozen_frames_ = frames;
        frozen_from_ = now;
        ahead_count_ = 0;
    }
}

/// Adds what plays, the buffer that comes again and again where it is frozen.
void SourceModel::add_played(std::size_t channel, std::int64_t first, std::span<double> out) const {
    if (frozen_frames_ == 0) {
        add_samples(stimulus_, channel, rate_, -clock_ppm_, Frames{first - started_}, out);
        return;
    }
    std::size_t done = 0;
    while (done < out.size()) {
        const std::int64_t within =
            (first + static_cast<std::int64_t>(done) - frozen_from_) % frozen_frames_;
        const auto count =
            std::min(static_cast<std::size_t>(frozen_frames_ - within), out.size() - done);
        add_samples(stimulus_, channel, rate_, -clock_ppm_,
                    Frames{frozen_from_ - frozen_frames_ + within - started_},
                    out.subspan(done, count));
        done += count;
    }
}

void SourceModel::play(const Stimulus& stimulus, std::int64_t now) {
    started_ = same_sound(stimulus_, stimulus) ? started_ : now;
    stimulus_ = stimulus;
    frozen_frames_ = 0;
    ahead_count_ = 0;
    for (std::size_t c = 0; c < 2; ++c) {
        const double peak = largest_peak(stimulus_, c).in<VoltsPeak>();
        double steady = 0.0;
        double square = 0.0;
        for (const Partial& partial : stimulus_.channels[c]) {
            const double amplitude = std::abs(partial.amplitude.in<VoltsPeak>());
            steady += amplitude;
            square += 0.5 * amplitude * amplitude;
        }
        // What comes and goes is heard over noise that stays.
        square += 0.5 * (peak - steady) * (peak - steady);
        noise_[c] = noise_ratio_ * std::sqrt(square);
        // What the filter still holds of a louder sound is not bent as if it were of this one.
        tail_peak_[c] = std::max(tail_left_ > 0 ? tail_peak_[c] : 0.0, peak_[c]);
        peak_[c] = peak;
        set_bend(c, std::max(peak, tail_peak_[c]));
    }
    tail_left_ = tail_frames;
}

void SourceModel::render(std::int64_t first, std::span<double> frames) {
    if (!playing()) {
        std::fill(frames.begin(), frames.end(), 0.0);
        return;
    }
    const std::size_t count = frames.size() / 2;
    const bool ready = ahead_count_ > 0 && first >= ahead_first_ &&
                       first + static_cast<std::int64_t>(count) <=
                           ahead_first_ + static_cast<std::int64_t>(ahead_count_);
    if (!ready) {
        ahead_first_ = first;
        ahead_count_ = std::max(rendered_at_once, count);
        for (std::size_t c = 0; c < 2; ++c) {
            ahead_[c].assign(ahead_count_, 0.0);
            add_played(c, first, ahead_[c]);
        }
    }
    const auto offset = static_cast<std::size_t>(first - ahead_first_);
    for (std::size_t c = 0; c < 2; ++c) {
        for (std::size_t i = 0; i < count; ++i) {
            frames[2 * i + c] = level_ * ahead_[c][offset + i];
        }
        if (noise_[c] > 0.0) {
            random_.add_to(frames.subspan(c), 2, noise_[c]);
        }
    }
}

void SourceModel::set_bend(std::size_t channel, double peak) {
    // Harmonics re a sine of this peak: second·peak/2 and third·peak²/4, as 0.8 to 0.6.
    second_[channel] = peak > 0.0 ? sign_[0] * 1.6 * distortion_ / peak : 0.0;
    third_[channel] = peak > 0.0 ? sign_[1] * 2.4 * distortion_ / (peak * peak) : 0.0;
}

void SourceModel::put_out(std::span<const double> frames, std::span<double> out) {
    doubler_.process(frames, out);
    if (tail_left_ > 0) {
        tail_left_ -= static_cast<std::int64_t>(frames.size() / 2);
        for (std::size_t c = 0; c < 2 && tail_left_ <= 0; ++c) {
            set_bend(c, peak_[c]);
        }
    }
    bend(out.data(), out.size() / 2, second_.data(), third_.data());
}

}  // namespace afterload::instruments
