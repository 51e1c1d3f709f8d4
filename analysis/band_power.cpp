#include "analysis/band_power.hpp"

#include "analysis/cosine_ends.hpp"
#include "analysis/transform.hpp"
#include "analysis/weighting.hpp"

#include <algorithm>
#include <cmath>
#include <complex>

namespace afterload::analysis {

namespace {

// Mean of the value at place `rank` (from 0) among `count` sorted bins of noise of unit power,
// which are exponential: 1/count + … over the first rank + 1 terms. For many bins the middle one
// tends to ln 2; of sixteen it is 14 % above.
double mean_of_sorted(std::size_t rank, std::size_t count) {
    double sum = 0.0;
    for (std::size_t left = count; left + rank + 1 > count; --left) {
        sum += 1.0 / static_cast<double>(left);
    }
    return sum;
}

}  // namespace

Periodogram::Periodogram(WaveformView record) {
    const std::size_t length = good_length_at_most(record.volts.size());
    const std::span<const double> x = record.volts.first(length);
    const CosineEnds weight{length, 0.1};

    // About the middle, mean and slope do not know each other.
    const double middle = 0.5 * static_cast<double>(length - 1);
    double mean = 0.0;
    double slope = 0.0;
    double tt = 0.0;
    double fourth = 0.0;
    for (std::size_t n = 0; n < length; ++n) {
        const double w = weight.at(n);
        const double t = static_cast<double>(n) - middle;
        mean += w * x[n];
        slope += w * t * x[n];
        tt += w * t * t;
        fourth += w * w * w * w;
    }
    mean /= weight.sum();
    slope /= tt;

    std::vector<double> weighted(length);
    for (std::size_t n = 0; n < length; ++n) {
        const double t = static_cast<double>(n) - middle;
        weighted[n] = weight.at(n) * (x[n] - mean - slope * t);
    }
    bins_ = RealTransform{length}.forward(weighted);
    length_ = length;
    const auto& bins = bins_;

    const double count = static_cast<double>(length);
    const double scale = 2.0 / (count * weight.sum_of_squares());
    bin_hz_ = record.rate.frequency().in<Hertz>() / count;
    spread_ = count * fourth / (weight.sum_of_squares() * weight.sum_of_squares());
    power_.resize(bins.size());
    for (std::size_t k = 0; k < bins.size(); ++k) {
        const bool single = k == 0 || k + 1 == bins.size();
        power_[k] = (single ? 0.5 : 1.0) * scale * std::norm(bins[k]);
    }

    noise_.assign(bins.size(), 0.0);
    std::vector<double> sorted;
    for (std::size_t from = 1; from < power_.size();) {
        const std::size_t to = std::min(power_.size(), from + std::max<std::size_t>(16, from / 8));
        sorted.assign(power_.begin() + static_cast<std::ptrdiff_t>(from),
                      power_.begin() + static_cast<std::ptrdiff_t>(to));
        const auto half = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
        std::nth_element(sorted.begin(), half, sorted.end());
        std::fill(noise_.begin() + static_cast<std::ptrdiff_t>(from),
                  noise_.begin() + static_cast<std::ptrdiff_t>(to),
                  *half / mean_of_sorted(sorted.size() / 2, sorted.size()));
        from = to;
    }
}

namespace {

/// Visits every bin from `first` to `last` that lies between `low` and `high` (in bins, none
/// negative), with the share of it that does.
template <class Visit>
void each_covered_bin(double low, double high, std::size_t first, std::size_t last, Visit visit) {
    const double end = std::min(static_cast<double>(last), std::round(high));
    if (!(end >= 0.0)) {
        return;
    }
    const double begin = std::min(std::max(static_cast<double>(first), std::round(low)), end + 1.0);
    for (auto bin = static_cast<std::size_t>(begin); bin <= static_cast<std::size_t>(end); ++bin) {
        const auto middle = static_cast<double>(bin);
        const double covered = std::min(middle + 0.5, high) - std::max(middle - 0.5, low);
        if (covered > 0.0) {
            visit(bin, covered);
        }
    }
}

}  // namespace

Periodogram::Power Periodogram::within(Band band, Weighting weighting) const {
    const double low = band.low.in<Hertz>() / bin_hz_;
    const double high = band.high.in<Hertz>() / bin_hz_;
    Power sum;
    each_covered_bin(low, high, 0, power_.size() - 1, [&](std::size_t bin, double covered) {
        const Hertz frequency{static_cast<double>(bin) * bin_hz_};
        const double gain = covered * weight_of(weighting, frequency).in<PowerRatio>();
        const double noise = noise_[bin];
        const double line = std::max(power_[bin] - noise, 0.0);
        sum.value += gain * power_[bin];
        // A bin of noise scatters by its own mean; a line above it only by its beat with the noise.
        const double scatter =
            power_[bin] > 12.0 * noise ? noise * noise + 2.0 * line * noise : noise * noise;
        sum.variance += gain * gain * spread_ * scatter;
    });
    return sum;
}

Estimate Periodogram::Power::rms() const {
    Estimate estimate;
    estimate.value = std::sqrt(value);
    if (value > 0.0) {
        estimate.u_k1 = 0.5 * std::sqrt(variance) / estimate.value;
    }
    return estimate;
}

Periodogram::Power Periodogram::mean_noise(Band band) const {
    const double low = band.low.in<Hertz>() / bin_hz_;
    const double high = band.high.in<Hertz>() / bin_hz_;
    const auto last = static_cast<double>(power_.size() - 1);
    double sum = 0.0;
    double weights = 0.0;
    double squares = 0.0;
    each_covered_bin(low, high, 1, power_.size() - 1, [&](std::size_t bin, double covered) {
        if (!(power_[bin] > 12.0 * noise_[bin])) {
            sum += covered * power_[bin];
            weights += covered;
            squares += covered * covered;
        }
    });
    Power mean;
    if (weights > 0.0) {
        mean.value = sum / weights / bin_hz_;
        // Part of a bin knows no less than the whole of it, and no more.
        const double independent = std::max(1.0, weights * weights / squares) / spread_;
        mean.variance = mean.value * mean.value / independent;
    } else {
        const double middle = std::clamp(std::round(0.5 * (low + high)), 1.0, last);
        mean.value = noise_[static_cast<std::size_t>(middle)] / bin_hz_;
        mean.variance = mean.value * mean.value * spread_;
    }
    return mean;
}

}  // namespace afterload::analysis
