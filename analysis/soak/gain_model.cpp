#include "analysis/soak/gain_model.hpp"

#include "analysis/median.hpp"
#include "analysis/resampling.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {
namespace {

constexpr std::size_t chunk_blocks = 16;
// A note that was never heard before may leave so much of itself, V in V.
constexpr double always_strange = 0.04;
constexpr int blocks_between = 130;
constexpr double kept = 0.99;     // of what was learnt, from chunk to chunk: some minutes
constexpr double strange = 0.06;  // of what is played, V in V, while it may be new to the filter

// d/dn of a band below two thirds of the reduced band, to a per cent.
constexpr std::size_t reach = 6;
const std::array<double, reach>& slope() {
    static const std::array<double, reach> coefficients = [] {
        std::array<double, reach> result{};
        for (std::size_t k = 1; k <= reach; ++k) {
            const double t = static_cast<double>(k);
            const double window =
                0.5 + 0.5 * std::cos(std::numbers::pi * t / static_cast<double>(reach + 1));
            result[k - 1] = (k % 2 == 1 ? 1.0 : -1.0) / t * window;
        }
        return result;
    }();
    return coefficients;
}

constexpr double noise_sigmas = 5.0;
constexpr double least_move = 0.002;  // samples: -50 dB at a quarter of the reduced rate

}  // namespace

StretchSums& StretchSums::operator+=(const StretchSums& more) {
    xx += more.xx;
    xy += more.xy;
    yy += more.yy;
    peak = std::max(peak, more.peak);
    return *this;
}

std::vector<double> on_other_clock(std::span<const double> x, double drift, double late) {
    return resampled(x, drift * static_cast<double>(x.size()) - late, 1.0 - drift, x.size());
}

GainModel::GainModel(std::span<const double> x, std::span<const double> y, double drift)
    : drift_{drift} {
    std::vector<double> moved;
    if (drift != 0.0) {
        moved = on_other_clock(x, drift);
        x = moved;
    }
    learner_.add(x, y, 1.0);
    filter_ = learner_.filter();
    move_filter();
    chunks_ = 1;
    learn_scatter(x, y);
}

GainBlock GainModel::block(std::span<const double> x, std::span<const double> y) const {
    constexpr std::size_t each = GainBlock::length / GainBlock::stretches;
    GainBlock result;
    std::array<double, GainBlock::length> foretold{};
    if (driven()) {
        foretell(moved_, x, foretold);
    }
    for (std::size_t s = 0; s < GainBlock::stretches; ++s) {
        StretchSums& sums = result.stretch[s];
        for (std::size_t i = s * each; i < (s + 1) * each; ++i) {
            sums.xx += foretold[i] * foretold[i];
            sums.xy += foretold[i] * y[i];
            sums.yy += y[i] * y[i];
            sums.peak = std::max(sums.peak, std::abs(foretold[i]));
        }
        result.all += sums;
    }
    if (!(result.all.xx > 0.0)) {
        return result;
    }
    result.gain = result.all.xy / result.all.xx;
    result.unheard = afterload::analysis::unheard(moved_, x);
    const auto& c = slope();
    double across = 0.0;
    double squares = 0.0;
    for (std::size_t n = reach; n + reach < GainBlock::length; ++n) {
        double steep = 0.0;
        for (std::size_t k = 1; k <= reach; ++k) {
            steep += c[k - 1] * (foretold[n + k] - foretold[n - k]);
        }
        across += steep * (y[n] - result.gain * foretold[n]);
        squares += steep * steep;
    }
    if (squares > 0.0) {
        result.delay_doubt =
            std::sqrt((unknown(result) + noise_sigmas * noise_sigmas * usual_rest(result.all.xx) /
                                             GainBlock::length) /
                      squares);
        if (result.gain != 0.0) {
            result.delay = at_ - across / (result.gain * squares);
        }
    }
    return result;
}

double GainModel::unknown(const GainBlock& block) const {
    const double share = chunks_ > 0 ? std::max(strange / chunks_, always_strange) : 0.0;
    return share * share * block.all.xx + block.unheard;
}

void GainModel::stand_at(double delay) {
    if (driven() && std::abs(delay - at_) > least_move) {
        at_ = delay;
        move_filter();
    }
}

void GainModel::move_filter() {
    moved_.unheard = filter_.unheard;
    moved_.taps = resampled(filter_.taps, -at_, 1.0, filter_.taps.size());
}

void GainModel::skip() {
    x_chunk_.clear();
    y_chunk_.clear();
}

void GainModel::learn_more(std::span<const double> x, std::span<const double> y, double gain) {
    if (!driven() || !(gain > 0.5) || --wait_ > 0) {
        return;
    }
    if (x_chunk_.empty()) {
        chunk_from_ = at_;
        x_chunk_.assign(x.begin(), x.end());
        y_chunk_.assign(taps - 1, 0.0);
    } else {
        x_chunk_.insert(x_chunk_.end(), x.begin() + (taps - 1), x.end());
    }
    for (const double v : y) {
        y_chunk_.push_back(v / gain);
    }
    if (y_chunk_.size() < taps - 1 + chunk_blocks * GainBlock::length) {
        return;
    }
    const double drift =
        (at_ - chunk_from_) / static_cast<double>((chunk_blocks - 1) * GainBlock::length);
    learner_.add(on_other_clock(x_chunk_, drift, at_), y_chunk_, kept);
    filter_ = learner_.filter();
    move_filter();
    ++chunks_;
    wait_ = blocks_between;
    x_chunk_.clear();
    y_chunk_.clear();
}

double GainModel::sigma(double foretold) const {
    if (!(foretold > 0.0)) {
        return 1.0;
    }
    return std::min(1.0, scatter_ * std::sqrt(rest_ + floor_ / foretold));
}

void GainModel::learn_scatter(std::span<const double> x, std::span<const double> y) {
    std::vector<double> rests;
    std::vector<double> foretold;
    std::vector<GainBlock> blocks;
    double played = 0.0;
    double heard = 0.0;
    for (std::size_t first = taps - 1; first + GainBlock::length <= y.size();
         first += GainBlock::length) {
        blocks.push_back(block(x.subspan(first - (taps - 1), taps - 1 + GainBlock::length),
                               y.subspan(first, GainBlock::length)));
        const StretchSums& all = blocks.back().all;
        rests.push_back(all.left(driven() ? 1.0 : 0.0));
        foretold.push_back(all.xx);
        heard += all.xx;
        for (std::size_t i = first; i < first + GainBlock::length; ++i) {
            played += x[i] * x[i];
        }
    }
    if (blocks.empty()) {
        return;
    }
    power_gain_ = played > 0.0 ? heard / played : 0.0;
    floor_ = std::max(1e-30,
                      driven() ? *std::min_element(rests.begin(), rests.end()) : median_of(rests));
    if (!driven()) {
        const double most = *std::max_element(rests.begin(), rests.end());
        most_rest_ = std::max(3.2, 1.5 * most / floor_);
        return;
    }
    const double loud = 0.1 * median_of(foretold);
    std::vector<double> shares;
    for (std::size_t b = 0; b < blocks.size(); ++b) {
        if (foretold[b] > loud) {
            shares.push_back(std::max(0.0, rests[b] - floor_) / foretold[b]);
        }
    }
    rest_ = shares.empty() ? 1e-12 : std::max(1e-12, median_of(shares));
    double squares = 0.0;
    double most = 0.0;
    std::size_t counted = 0;
    for (std::size_t b = 0; b < blocks.size(); ++b) {
        most_rest_ = std::max(most_rest_, 2.5 * rests[b] / usual_rest(foretold[b]));
        if (foretold[b] > loud) {
            const double z =
                (blocks[b].gain - 1.0) / std::sqrt(rest_ + floor_ / std::max(foretold[b], 1e-30));
            squares += z * z;
            most = std::max(most, std::abs(z));
            ++counted;
        }
    }
    scatter_ =
        counted > 0 ? std::max(std::sqrt(squares / static_cast<double>(counted)), most / 4.0) : 1.0;
    scatter_ = std::max(scatter_, 0.02);
}

}  // namespace afterload::analysis
