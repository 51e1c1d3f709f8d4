#include "instruments/white_noise.hpp"

#include <cmath>

namespace afterload::instruments {

namespace {

/// Square of the A-weighting's amplitude, without its normalisation.
double a_weighting_squared(double hertz) {
    constexpr double f1 = 20.598997;
    constexpr double f2 = 107.65265;
    constexpr double f3 = 737.86223;
    constexpr double f4 = 12194.217;
    const double f = hertz * hertz;
    const double amplitude =
        f * f * f4 * f4 /
        ((f + f1 * f1) * std::sqrt((f + f2 * f2) * (f + f3 * f3)) * (f + f4 * f4));
    return amplitude * amplitude;
}

}  // namespace

double a_weighted_bandwidth() {
    static const double bandwidth = [] {
        double sum = 0.0;
        for (int f = 0; f < 24000; ++f) {
            sum += a_weighting_squared(f + 0.5);
        }
        return sum / a_weighting_squared(1000.0);
    }();
    return bandwidth;
}

double white_sigma(double volts_a, double rate_hertz) {
    return volts_a * std::sqrt(0.5 * rate_hertz / a_weighted_bandwidth());
}

}  // namespace afterload::instruments
