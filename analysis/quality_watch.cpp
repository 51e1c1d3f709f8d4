#include "analysis/quality_watch.hpp"

#include "analysis/median.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {
namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr std::size_t windows_to_learn = 10;
constexpr double longest_short_piece_s = 0.0035;
// Of the power of noise alone in a piece of some 80 points, 98 of 100 are below 1.3 of the median.
constexpr double spread_of_noise = 1.3;

std::complex<double> product(std::complex<double> a, std::complex<double> b) {
    return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

}  // namespace

MainsLines::MainsLines(double mains_hz, double tone_hz, int harmonics, double piece_s) {
    for (int order = 1; order <= most && mains_hz > 0.0; ++order) {
        const double hertz = order * mains_hz;
        bool apart = hertz * piece_s < 0.45;
        for (int k = 1; k <= harmonics; ++k) {
            // In windows of 0.1 s a line is 10 Hz wide.
            apart = apart && std::abs(hertz - k * tone_hz) > 12.0;
        }
        if (!apart) {
            continue;
        }
        const double half = std::numbers::pi * hertz * piece_s;
        now_[hertz_.size()] = 1.0;
        step_[hertz_.size()] = std::polar(1.0, -two_pi * hertz * piece_s);
        hertz_.push_back(hertz);
        response_.push_back(std::sin(half) / half);
    }
}

void MainsLines::turn() {
    for (std::size_t i = 0; i < size(); ++i) {
        now_[i] = product(now_[i], step_[i]);
        const double square = now_[i].real() * now_[i].real() + now_[i].imag() * now_[i].imag();
        now_[i] *= 1.5 - 0.5 * square;
    }
}

QualityWatch::QualityWatch(int channel, bool driven, double reference, const PieceFit& fit,
                           double rate_hz)
    : channel_{channel},
      driven_{driven},
      reference_{reference},
      lines_{fit.lines()},
      piece_s_{static_cast<double>(fit.length()) / rate_hz},
      points_{static_cast<double>(fit.length())},
      omega_{fit.omega()},
      rate_hz_{rate_hz} {}

void QualityWatch::add(const Piece& piece, double start_s, bool clean, const MainsLines& mains,
                       std::vector<WatchEvent>& events) {
    add_noise(piece, start_s, events);
    if (!clean) {
        return;
    }
    ++window_.clean;
    window_.residual += piece.residual;
    window_.mean += piece.mean;
    for (std::size_t i = 0; i < mains.size(); ++i) {
        window_.mains[i] += piece.mean * mains.now(i);
        window_.rotations[i] += mains.now(i);
    }
    if (!driven_) {
        return;
    }
    const std::complex<double> tone = piece.line[0];
    const double level = std::sqrt(tone.real() * tone.real() + tone.imag() * tone.imag());
    window_.level += level;
    if (!(level > 0.0)) {
        return;
    }
    // Harmonics against the tone's own phase add up whatever its frequency is.
    const std::complex<double> back{tone.real() / level, -tone.imag() / level};
    std::complex<double> rotation = back;
    for (std::size_t k = 1; k < static_cast<std::size_t>(lines_); ++k) {
        rotation = product(rotation, back);
        window_.harmonic[k] += product(piece.line[k], rotation);
    }
}

// In short pieces hum is nearly a parabola and leaves next to nothing; in longer ones it leaves
// something that comes and goes with its phase: there the most of a few seconds is what should be.
void QualityWatch::learn_noise(double residual) {
    first_residuals_.push_back(residual);
    const bool short_pieces = piece_s_ < longest_short_piece_s;
    const double wanted_s = short_pieces ? 1.0 : 5.0;
    if (static_cast<double>(first_residuals_.size()) * piece_s_ < wanted_s ||
        first_residuals_.size() < 16) {
        return;
    }
    // A click among them is no noise; what comes ten times a second and more is.
    auto& seen = first_residuals_;
    std::sort(seen.begin(), seen.end());
    const double median = seen[seen.size() / 2];
    const double nearly_most = seen[seen.size() * 49 / 50];
    base_residual_ = short_pieces ? std::max(median, nearly_most / spread_of_noise) : seen.back();
    first_residuals_ = {};
}

void QualityWatch::add_noise(const Piece& piece, double start_s, std::vector<WatchEvent>& events) {
    if (!base_residual_) {
        learn_noise(piece.residual);
        return;
    }
    const double floor = least_of_tone * reference_ * least_of_tone * reference_ / 2.0;
    const double base = *base_residual_;
    const auto told =
        noise_.add({start_s, piece_s_, piece.residual}, base, std::max(2.0 * base, floor));
    if (told) {
        tell(WatchEvent::Kind::noise, told, std::sqrt(told->value), events);
    }
}

void QualityWatch::tell(WatchEvent::Kind kind, const std::optional<Excursion::Told>& told,
                        double size, std::vector<WatchEvent>& events) const {
    if (!told) {
        return;
    }
    WatchEvent event;
    event.kind = kind;
    event.channel = channel_;
    event.start = Seconds{told->start_s};
    event.duration = Seconds{told->end_s - told->start_s};
    event.size = size;
    events.push_back(event);
}

void QualityWatch::learn(double hum, double distortion, double mean) {
    first_hum_.push_back(hum);
    first_distortion_.push_back(distortion);
    base_offset_ += (mean - base_offset_) / static_cast<double>(first_hum_.size());
    if (first_hum_.size() == windows_to_learn) {
        base_hum_ = median_of(first_hum_);
        base_distortion_ = median_of(first_distortion_);
    }
}

void QualityWatch::watch_offset(const WatchedWindow& place, double mean,
                                std::vector<WatchEvent>& events) {
    const double away = mean - base_offset_;
    const double threshold = std::max(least_offset * reference_, 8.0 * std::sqrt(offset_variance_));
    const bool was_open = offset_.open();
    const auto told = offset_.add({place.start_s, place.length_s, std::abs(away)}, 0.0, threshold);
    if (told) {
        tell(WatchEvent::Kind::offset, told, offset_sign_ * told->value, events);
    }
    if (offset_.open()) {
        if (!was_open) {
            offset_sign_ = away < 0.0 ? -1.0 : 1.0;
        }
        return;
    }
    // A drift of seconds is followed.
    base_offset_ += away / 30.0;
    offset_variance_ += (away * away - offset_variance_) / 100.0;
}

void QualityWatch::end_window(double start_s, long pieces, double turn, const MainsLines& mains,
                              std::vector<WatchEvent>& events) {
    const Window seen = window_;
    window_ = {};
    if (4 * seen.clean < 3 * pieces) {
        return;
    }
    const auto count = static_cast<double>(seen.clean);
    const double mean = seen.mean / count;
    double hum_power = 0.0;
    for (std::size_t i = 0; i < mains.size(); ++i) {
        const auto line = (seen.mains[i] - mean * seen.rotations[i]) * (2.0 / count);
        hum_power += 0.5 * std::norm(line) / (mains.response(i) * mains.response(i));
    }
    const double hum = std::sqrt(hum_power);
    const double level = driven_ ? seen.level / count : reference_;
    double harmonics = 0.0;
    for (std::size_t k = 1; k < static_cast<std::size_t>(lines_); ++k) {
        harmonics += std::norm(seen.harmonic[k] / count);
    }
    const double distortion = level > 0.0 ? std::sqrt(harmonics) / level : 0.0;
    const double residual = seen.residual / count;
    // Noise alone gives each harmonic the power 4 σ²/N.
    const double noise_alone =
        std::sqrt(4.0 * std::max(1, lines_ - 1) * residual / (points_ * count)) / level;

    latest_ = {latest_.windows + 1, level, distortion, residual, hum, mean};

    const WatchedWindow place{start_s, static_cast<double>(pieces) * piece_s_, 0.0};
    if (!base_hum_) {
        learn(hum, distortion, mean);
    } else {
        const double least_hum = std::max(*base_hum_, least_of_tone * reference_);
        const double noise_in_means = 6.0 * std::sqrt(2.0 * residual / (points_ * count));
        if (const auto told = hum_.add({place.start_s, place.length_s, hum}, *base_hum_,
                                       std::max(least_hum, noise_in_means))) {
            tell(WatchEvent::Kind::hum, told, told->value, events);
        }
        const double least_distortion =
            std::max({base_distortion_, least_of_tone, 3.0 * noise_alone});
        if (const auto told = driven_ ? distortion_.add({place.start_s, place.length_s, distortion},
                                                        base_distortion_, least_distortion)
                                      : std::nullopt) {
            tell(WatchEvent::Kind::distortion, told, told->value, events);
        }
        watch_offset(place, mean, events);
    }

    sums_.lowest = sums_.windows == 0 ? level : std::min(sums_.lowest, level);
    sums_.highest = std::max(sums_.highest, level);
    ++sums_.windows;
    sums_.amplitude += level;
    level_squares_ += level * level;
    const double further = std::remainder(turn - omega_ * points_, two_pi);
    turn_sum_ += further;
    turn_squares_ += further * further;
    noise_power_ += residual;
    noise_power_squares_ += residual * residual;
    hum_power_ += hum_power;
    hum_power_squares_ += hum_power * hum_power;
    sums_.offset += mean;
    pieces_ += count;
    for (std::size_t k = 1; k < static_cast<std::size_t>(lines_); ++k) {
        harmonic_sum_[k] += seen.harmonic[k] / count;
    }
    const double share = 1.0 / static_cast<double>(std::min<long>(sums_.windows, 10));
    last_second_ += share * (level - last_second_);
    if (sums_.windows <= 10) {
        sums_.first = last_second_;
    }
}

void QualityWatch::finish(std::vector<WatchEvent>& events) {
    if (const auto told = noise_.finish()) {
        tell(WatchEvent::Kind::noise, told, std::sqrt(told->value), events);
    }
    if (const auto told = hum_.finish()) {
        tell(WatchEvent::Kind::hum, told, told->value, events);
    }
    if (const auto told = distortion_.finish()) {
        tell(WatchEvent::Kind::distortion, told, told->value, events);
    }
    if (const auto told = offset_.finish()) {
        tell(WatchEvent::Kind::offset, told, offset_sign_ * told->value, events);
    }
}

ChannelFigures QualityWatch::figures() const {
    ChannelFigures figures = sums_;
    if (figures.windows == 0) {
        return figures;
    }
    const auto count = static_cast<double>(figures.windows);
    const auto sigma_of_mean = [&](double sum, double squares) {
        const double mean = sum / count;
        return std::sqrt(std::max(0.0, squares / count - mean * mean) / std::max(1.0, count - 1.0));
    };
    figures.amplitude /= count;
    figures.amplitude_sigma = sigma_of_mean(sums_.amplitude, level_squares_);
    figures.last = last_second_;
    const double own = omega_ + turn_sum_ / count / points_;
    figures.frequency = own * rate_hz_ / two_pi;
    figures.frequency_sigma = sigma_of_mean(turn_sum_, turn_squares_) / points_ * rate_hz_ / two_pi;
    figures.residual = std::sqrt(noise_power_ / count);
    figures.hum = std::sqrt(hum_power_ / count);
    // Of a power twice the relative deviation of its root.
    if (figures.residual > 0.0) {
        figures.residual_sigma =
            sigma_of_mean(noise_power_, noise_power_squares_) / (2.0 * figures.residual);
    }
    if (figures.hum > 0.0) {
        figures.hum_sigma = sigma_of_mean(hum_power_, hum_power_squares_) / (2.0 * figures.hum);
    }
    figures.offset /= count;
    figures.harmonics = driven_ ? lines_ : 1;
    if (driven_ && figures.amplitude > 0.0 && lines_ > 1) {
        const double each = 4.0 * (noise_power_ / count) / (points_ * pieces_);
        double power = 0.0;
        for (std::size_t k = 1; k < static_cast<std::size_t>(lines_); ++k) {
            power += std::norm(harmonic_sum_[k] / count) - each;
        }
        figures.distortion = std::sqrt(std::max(0.0, power)) / figures.amplitude;
        figures.distortion_sigma = std::sqrt(each / 2.0) / figures.amplitude;
    }
    return figures;
}

}  // namespace afterload::analysis
