#include "analysis/debiased_power.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {

void DebiasedPower::add(double amplitude, double sigma) {
    const double noise = sigma * sigma;
    const double own = amplitude * amplitude - 2.0 * noise;
    power_ += own;
    weighted_ += own * noise;
    noise_ += noise * noise;
    largest_noise_ = std::max(largest_noise_, noise);
}

double DebiasedPower::variance() const {
    return 4.0 * std::max(weighted_, 0.0) + 4.0 * noise_;
}

// The scatter is that of the true power and not of the reading, which noise may have made small:
// the largest power b that is still two of its own scatters above the reading solves (b - P)² = 4
// (4 b σ² + 4 Σσ⁴), with all of it in the noisiest line.
double DebiasedPower::largest_power() const {
    const double reading = std::max(power_, 0.0);
    const double noise = largest_noise_;
    return reading + 8.0 * noise +
           std::sqrt(16.0 * reading * noise + 64.0 * noise * noise + 16.0 * noise_);
}

Estimate DebiasedPower::root(double scale) const {
    const double scatter = std::sqrt(variance());
    const double value = std::sqrt(std::max(power_, 0.0));
    Estimate estimate;
    estimate.value = scale * value;
    if (power_ < 2.0 * scatter) {
        const double most = scale * std::sqrt(largest_power());
        estimate.bound = Bound{most, Bound::Side::at_most};
        estimate.u_k1 = 0.5 * most;
    } else if (value > 0.0) {
        estimate.u_k1 = scale * scatter / (2.0 * value);
    }
    return estimate;
}

}  // namespace afterload::analysis
