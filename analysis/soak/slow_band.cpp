#include "analysis/soak/slow_band.hpp"

#include "analysis/normal_equations.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {
namespace {

constexpr double pull = 1e-6;
constexpr int most_lines = 2;
constexpr double sigmas = 8.0;
constexpr double widened = 3.0;        // over the most that the reference showed
constexpr double strange = 0.3;        // of what is played, while it may be new to the filter
constexpr double chunk_s = 4.0;        // that is learnt from at a time
constexpr double kept = 0.99;          // some minutes are remembered
constexpr double played_over = 128.0;  // samples

double mean_of(std::span<const double> values) {
    double sum = 0.0;
    for (const double value : values) {
        sum += value;
    }
    return values.empty() ? 0.0 : sum / static_cast<double>(values.size());
}

}  // namespace

SlowBand::SlowBand(double rate_hz, double mains_hz)
    : rate_hz_{rate_hz}, learner_{taps, ahead, pull} {
    for (int order = 1; order <= most_lines && mains_hz > 0.0; ++order) {
        if (order * mains_hz < 0.34 * rate_hz) {
            hertz_.push_back(order * mains_hz);
        }
    }
    // A mean, a slope and two columns a line by least squares, once for all windows.
    const std::size_t unknowns = 2 + 2 * hertz_.size();
    std::vector<std::vector<double>> column(unknowns, std::vector<double>(window));
    for (std::size_t n = 0; n < window; ++n) {
        const double t = static_cast<double>(n) - 0.5 * static_cast<double>(window - 1);
        column[0][n] = 1.0;
        column[1][n] = t / static_cast<double>(window);
        for (std::size_t i = 0; i < hertz_.size(); ++i) {
            const double angle = 2.0 * std::numbers::pi * hertz_[i] / rate_hz_ * t;
            column[2 + 2 * i][n] = std::cos(angle);
            column[3 + 2 * i][n] = std::sin(angle);
        }
    }
    columns_.assign(2 * hertz_.size() * window, 0.0);
    for (std::size_t n = 0; n < window; ++n) {
        NormalEquations equations{unknowns};
        for (std::size_t r = 0; r < unknowns; ++r) {
            for (std::size_t c = 0; c <= r; ++c) {
                double sum = 0.0;
                for (std::size_t k = 0; k < window; ++k) {
                    sum += column[r][k] * column[c][k];
                }
                equations.at(r, c) = sum;
            }
            equations.right(r) = column[r][n];
        }
        if (const auto solution = equations.solve()) {
            for (std::size_t i = 0; i < 2 * hertz_.size(); ++i) {
                columns_[i * window + n] = solution->values[2 + i];
            }
        }
    }
}

double SlowBand::line_power(std::span<const double> rest) const {
    double power = 0.0;
    for (std::size_t i = 0; i < 2 * hertz_.size(); ++i) {
        double amplitude = 0.0;
        for (std::size_t n = 0; n < window; ++n) {
            amplitude += columns_[i * window + n] * rest[n];
        }
        power += 0.5 * amplitude * amplitude;
    }
    return power;
}

SlowBand::Reading SlowBand::read(std::span<const double> rest) const {
    Reading reading;
    reading.hum = std::sqrt(line_power(rest));
    reading.mean = mean_of(rest) - mean_;
    reading.fresh = mean_of(rest.subspan(window - window / 4)) - mean_;
    return reading;
}

void SlowBand::learn(std::span<const double> x, std::span<const double> y) {
    late_.assign(y.end() - static_cast<std::ptrdiff_t>(std::min(y.size(), ahead)), y.end());
    y = y.first(y.size() - late_.size());
    const std::span<const double> newest = x;
    if (!x.empty()) {
        x = x.subspan(late_.size());
    }
    std::vector<double> rest(y.begin(), y.end());
    std::vector<double> foretold;
    filter_ = {};
    mean_ = 0.0;
    if (!x.empty() && y.size() > 4 * taps) {
        x_chunk_.assign(x.begin(), x.end());
        y_chunk_.assign(y.begin(), y.end());
        learn_more();
    }
    if (!filter_.taps.empty()) {
        foretold.resize(y.size() - (taps - 1));
        foretell(filter_, x, foretold);
        rest.erase(rest.begin(), rest.begin() + static_cast<std::ptrdiff_t>(taps - 1));
        for (std::size_t n = 0; n < rest.size(); ++n) {
            rest[n] -= foretold[n];
        }
    }
    mean_ = mean_of(rest);
    std::vector<Reading> readings;
    for (std::size_t first = 0; first + window <= rest.size(); first += window / 4) {
        readings.push_back(read(std::span{rest}.subspan(first, window)));
        double squares = 0.0;
        for (std::size_t n = first; n < first + window && n < foretold.size(); ++n) {
            squares += foretold[n] * foretold[n];
        }
        readings.back().played = std::sqrt(squares / static_cast<double>(window));
    }
    learn_scatter(readings, y);
    realign(newest);
    rest_.clear();
    learnt_ = true;
}

// What is always there, and what comes with what is played.
void SlowBand::learn_scatter(std::vector<Reading> readings, std::span<const double> y) {
    if (readings.empty()) {
        return;
    }
    std::sort(readings.begin(), readings.end(),
              [](const Reading& a, const Reading& b) { return a.hum < b.hum; });
    const auto count = static_cast<double>(readings.size());
    const bool played = !filter_.taps.empty();
    hum_ = readings[played ? readings.size() / 4 : readings.size() / 2].hum;
    double hum_squares = 0.0;
    double fresh_squares = 0.0;
    double loudest = 0.0;
    for (const Reading& one : readings) {
        hum_squares += (one.hum - hum_) * (one.hum - hum_);
        fresh_squares += one.fresh * one.fresh;
        loudest = std::max(loudest, one.played);
    }
    if (!played) {
        hum_sigma_ = std::sqrt(hum_squares / count);
        fresh_sigma_ = std::sqrt(fresh_squares / count);
    }
    hum_share_ = fresh_share_ = 0.0;
    for (const Reading& one : readings) {
        if (one.played > 0.1 * loudest && one.played > 0.0) {
            hum_share_ = std::max(hum_share_, (one.hum - hum_) / one.played);
            fresh_share_ = std::max(fresh_share_, std::abs(one.fresh) / one.played);
        }
    }
    // Mains lines of less than this of all there is are none.
    double squares = 0.0;
    for (const double v : y) {
        squares += v * v;
    }
    hum_sigma_ = std::max(hum_sigma_, 4e-6 * std::sqrt(squares / static_cast<double>(y.size())));
}

double SlowBand::unknown(const Reading& reading, double share) const {
    const double still_new = chunks_ > 0 ? strange / chunks_ : 0.0;
    return std::max(widened * share, still_new) * reading.played + reading.unheard;
}

double SlowBand::most_hum(const Reading& reading) const {
    return std::max(2.0 * hum_, hum_ + sigmas * hum_sigma_) + unknown(reading, hum_share_);
}

double SlowBand::most_fresh(const Reading& reading) const {
    return sigmas * fresh_sigma_ + unknown(reading, fresh_share_);
}

// What a stimulus holds is learnt as it comes: a first note of the bass is not yet known.
void SlowBand::learn_more() {
    // The mean is the unit's own, not the stimulus': it must not pull at the filter.
    const double offset = mean_of(y_chunk_);
    for (double& v : y_chunk_) {
        v -= offset;
    }
    learner_.add(x_chunk_, y_chunk_, chunks_ > 0 ? kept : 1.0);
    filter_ = learner_.filter();
    ++chunks_;
    x_chunk_.clear();
    y_chunk_.clear();
}

void SlowBand::realign(std::span<const double> x) {
    x_.assign(x.end() - static_cast<std::ptrdiff_t>(std::min(x.size(), taps - 1)), x.end());
    x_.insert(x_.begin(), taps - 1 - x_.size(), 0.0);
    x_chunk_.clear();
    y_chunk_.clear();
}

std::optional<SlowBand::Reading> SlowBand::add(std::span<const double> x, std::span<const double> y,
                                               double gain, bool sound) {
    const std::size_t first = rest_.size();
    late_.insert(late_.end(), y.begin(), y.end());
    rest_.insert(rest_.end(), late_.begin(), late_.begin() + static_cast<std::ptrdiff_t>(y.size()));
    if (!filter_.taps.empty() && !x.empty()) {
        x_.insert(x_.end(), x.begin(), x.end());
        std::vector<double> foretold(y.size());
        const auto history = std::span{x_}.last(taps - 1 + y.size());
        foretell(filter_, history, foretold);
        for (std::size_t n = 0; n < y.size(); ++n) {
            rest_[first + n] -= gain * foretold[n];
            played_ += (gain * gain * foretold[n] * foretold[n] - played_) / played_over;
        }
        // At once there, and gone when the readings' window has forgotten it.
        const auto count = static_cast<double>(y.size());
        const double now = gain * gain * unheard(filter_, history) / count;
        unheard_ = std::max(now, unheard_ + (now - unheard_) * std::min(1.0, count / played_over));
        x_.erase(x_.begin(), x_.end() - static_cast<std::ptrdiff_t>(taps - 1));
        if (!sound || !(gain > 0.5)) {
            x_chunk_.clear();
            y_chunk_.clear();
        } else {
            x_chunk_.insert(x_chunk_.end(), x.begin(), x.end());
            for (std::size_t n = 0; n < y.size(); ++n) {
                y_chunk_.push_back(late_[n] / gain);
            }
            if (static_cast<double>(x_chunk_.size()) > chunk_s * rate_hz_) {
                learn_more();
            }
        }
    }
    late_.erase(late_.begin(), late_.begin() + static_cast<std::ptrdiff_t>(y.size()));
    if (rest_.size() < window) {
        return std::nullopt;
    }
    rest_.erase(rest_.begin(), rest_.end() - static_cast<std::ptrdiff_t>(window));
    Reading reading = read(rest_);
    reading.played = std::sqrt(played_);
    reading.unheard = std::sqrt(unheard_);
    return reading;
}

}  // namespace afterload::analysis
