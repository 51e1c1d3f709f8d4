#include "analysis/noise_floor.hpp"

#include "analysis/cosine_ends.hpp"
#include "analysis/transform.hpp"
#include "analysis/window.hpp"

#include <algorithm>
#include <cmath>
#include <complex>

namespace afterload::analysis {

NoiseFloor::NoiseFloor(std::span<const double> residual, SampleRate rate, double ends,
                       const std::vector<double>& lines_hz) {
    const double rate_hz = rate.frequency().in<Hertz>();
    const std::size_t longest =
        good_length_at_most(std::max<std::size_t>(1024, static_cast<std::size_t>(rate_hz / 6.0)));
    const std::size_t whole = good_length_at_most(residual.size());
    const bool in_pieces = residual.size() >= 2 * longest;
    const std::size_t length = in_pieces ? longest : whole;

    std::vector<double> w;
    if (in_pieces) {
        w = window(WindowKind::hann, length);
    } else {
        const CosineEnds weight{length, ends};
        w.resize(length);
        for (std::size_t n = 0; n < length; ++n) {
            w[n] = weight.at(n);
        }
    }
    double squares = 0.0;
    for (const double x : w) {
        squares += x * x;
    }

    const RealTransform transform{length};
    std::vector<double> piece(length);
    std::vector<std::complex<double>> bins(transform.bins());
    variance_.assign(transform.bins(), 0.0);
    pieces_ = 0;
    for (std::size_t start = 0; start + length <= residual.size(); start += length / 2) {
        for (std::size_t n = 0; n < length; ++n) {
            piece[n] = w[n] * residual[start + n];
        }
        transform.forward(piece, bins);
        for (std::size_t k = 0; k < bins.size(); ++k) {
            variance_[k] += std::norm(bins[k]);
        }
        ++pieces_;
    }
    for (double& v : variance_) {
        v /= squares * pieces_;
    }

    bin_hz_ = rate_hz / static_cast<double>(length);
    taken_.assign(variance_.size(), false);
    taken_.front() = true;
    taken_.back() = true;
    const double guard = rate_hz / static_cast<double>(residual.size()) / bin_hz_;
    for (const double line : lines_hz) {
        const double place = line / bin_hz_;
        const auto from = static_cast<std::ptrdiff_t>(std::floor(place - guard)) + 1;
        const auto to = static_cast<std::ptrdiff_t>(std::ceil(place + guard)) - 1;
        for (std::ptrdiff_t k = std::max<std::ptrdiff_t>(from, 0);
             k <= to && k < static_cast<std::ptrdiff_t>(taken_.size()); ++k) {
            taken_[static_cast<std::size_t>(k)] = true;
        }
    }
}

double NoiseFloor::variance_around(Hertz frequency) const {
    // About eighty independent values: enough for an uncertainty good to a tenth, near enough to be
    // "around" for any noise that is smooth over a few dozen bins.
    const std::size_t wanted = std::max<std::size_t>(
        8, static_cast<std::size_t>(80.0 / std::max(1.0, 0.5 * (pieces_ + 1))));
    const auto centre = static_cast<std::size_t>(std::clamp(
        std::round(frequency.in<Hertz>() / bin_hz_), 0.0, static_cast<double>(taken_.size() - 1)));
    std::vector<double> values;
    const auto take = [&](std::size_t k) {
        if (!taken_[k]) {
            values.push_back(variance_[k]);
        }
    };
    take(centre);
    for (std::size_t distance = 1; values.size() < wanted && distance < taken_.size(); ++distance) {
        if (centre >= distance) {
            take(centre - distance);
        }
        if (centre + distance < taken_.size()) {
            take(centre + distance);
        }
    }
    if (values.empty()) {
        return 0.0;
    }
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    const double limit = 12.0 * *middle / std::log(2.0);
    double sum = 0.0;
    double count = 0.0;
    for (const double v : values) {
        if (v <= limit) {
            sum += v;
            count += 1.0;
        }
    }
    return sum / count;
}

}  // namespace afterload::analysis
