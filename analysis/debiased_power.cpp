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
}

double DebiasedPower::variance() const {
    return 4.0 * std::max(weighted_, 0.0) + 4.0 * noise_;
}

Estimate DebiasedPower::root(double scale) const {
    const double scatter = std::sqrt(variance());
    const double value = std::sqrt(std::max(power_, 0.0));
    Estimate estimate;
    estimate.value = scale * value;
    if (power_ < 2.0 * scatter) {
        const double most = scale * std::sqrt(std::max(power_, 0.0) + 2.0 * scatter);
        estimate.bound = Bound{most, Bound::Side::at_most};
        estimate.u_k1 = 0.5 * most;
    } else if (value > 0.0) {
        estimate.u_k1 = scale * scatter / (2.0 * value);
    }
    return estimate;
}

}  // namespace afterload::analysis
