#include "analysis/debiased_power.hpp"
#include "analysis/two_tone.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <initializer_list>
#include <utility>
#include <vector>

namespace afterload::analysis {

namespace {

using Orders = std::pair<int, int>;

// Amplitude of a product with what noise puts on its square taken off; 0 where it is missed.
double amplitude_of(const TwoToneFit& fit, Orders orders) {
    const Product* product = fit.product(orders.first, orders.second);
    if (product == nullptr) {
        return 0.0;
    }
    const double noise = product->line.sigma * product->line.sigma;
    return std::sqrt(std::max(0.0, product->line.amplitude * product->line.amplitude - 2 * noise));
}

std::vector<const Product*> fitted_among(const TwoToneFit& fit,
                                         std::initializer_list<Orders> wanted) {
    std::vector<const Product*> found;
    for (const Orders& orders : wanted) {
        if (const Product* product = fit.product(orders.first, orders.second)) {
            found.push_back(product);
        }
    }
    return found;
}

DebiasedPower power_of(const std::vector<const Product*>& products) {
    DebiasedPower power;
    for (const Product* product : products) {
        power.add(product->line.amplitude, product->line.sigma);
    }
    return power;
}

double root_of(const DebiasedPower& power, double scale) {
    return scale * std::sqrt(std::max(0.0, power.power()));
}

// The rms of `products` over `reference`, with what the reference's own noise adds.
Estimate ratio_of(const std::vector<const Product*>& products, const FittedLine& tone,
                  double reference) {
    Estimate ratio = power_of(products).root(1.0 / reference);
    ratio.u_k1 = std::hypot(ratio.u_k1, ratio.value * tone.sigma / tone.amplitude);
    return ratio;
}

// Square of the depth at which the carrier's envelope moves at `order` times the low tone: with the
// carrier turned to the real axis, the upper side tone plus the lower one's mirror.
double envelope_square(const TwoToneFit& fit, int order) {
    const std::complex<double> carrier = std::polar(fit.high.amplitude, fit.high.phase);
    std::complex<double> depth;
    double noise = 0.0;
    for (const int side : {1, -1}) {
        const Product* product = fit.product(side * order, 1);
        if (product == nullptr) {
            return 0.0;
        }
        const std::complex<double> tone =
            std::polar(product->line.amplitude, product->line.phase) / carrier;
        depth += side > 0 ? tone : std::conj(tone);
        noise += 2.0 * std::pow(product->line.sigma / fit.high.amplitude, 2);
    }
    return std::norm(depth) - noise;
}

tl::unexpected<FigureFailure> nothing_left() {
    return tl::unexpected(
        FigureFailure{FigureFailure::Kind::out_of_range,
                      "every product that counts stands beside another line or above the rate's "
                      "half: take a longer record, a higher rate or other tones"});
}

}  // namespace

Expected<ModulationDistortion> modulation_distortion(const TwoToneFit& fit) {
    const std::vector<const Product*> counted =
        fitted_among(fit, {{1, 1}, {-1, 1}, {2, 1}, {-2, 1}});
    if (counted.empty()) {
        return nothing_left();
    }
    const double carrier = fit.high.amplitude;
    ModulationDistortion result;
    result.counted = static_cast<int>(counted.size());
    result.side_tones = ratio_of(counted, fit.high, carrier);
    result.iec_second = (amplitude_of(fit, {1, 1}) + amplitude_of(fit, {-1, 1})) / carrier;
    result.iec_third = (amplitude_of(fit, {2, 1}) + amplitude_of(fit, {-2, 1})) / carrier;
    result.demodulated =
        std::sqrt(std::max(0.0, envelope_square(fit, 1) + envelope_square(fit, 2)));
    result.side_tones_to_order_5 =
        root_of(power_of(fitted_among(
                    fit, {{1, 1}, {-1, 1}, {2, 1}, {-2, 1}, {3, 1}, {-3, 1}, {4, 1}, {-4, 1}})),
                1.0 / carrier);
    return result;
}

Expected<DifferenceDistortion> difference_distortion(const TwoToneFit& fit) {
    const std::vector<const Product*> counted = fitted_among(fit, {{-1, 1}, {2, -1}, {-1, 2}});
    if (counted.empty()) {
        return nothing_left();
    }
    const double both = 2.0 * fit.high.amplitude;
    DifferenceDistortion result;
    result.counted = static_cast<int>(counted.size());
    result.products = ratio_of(counted, fit.high, both);
    result.iec_second = amplitude_of(fit, {-1, 1}) / both;
    result.iec_third = (amplitude_of(fit, {2, -1}) + amplitude_of(fit, {-1, 2})) / both;
    result.total = root_of(power_of(fitted_among(fit, {{-1, 1}, {2, -1}})), 1.0 / both);
    result.second_over_one_tone = 2.0 * result.iec_second;
    return result;
}

}  // namespace afterload::analysis
