#include "instruments/class_ab.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::instruments {

namespace {

/// Solves t + r·exp(t) = c for t: Newton on a monotone convex function.
double log_of_small_current(double r, double c) {
    double t = c < 0.0 ? c : std::log1p(c / (r + 1.0));
    for (int i = 0; i < 60; ++i) {
        const double e = r * std::exp(t);
        const double step = (t + e - c) / (1.0 + e);
        t -= step;
        if (std::abs(step) < 1e-14 * (1.0 + std::abs(t))) {
            break;
        }
    }
    return t;
}

}  // namespace

double crossover_volts(const OutputPair& pair, double amperes) {
    // Currents in units of Iq, r = Iq·Re/Vt. The larger one, a, lies between u and u + 1: Newton on
    // its logarithm, halving the bracket where that would leave it.
    const double r = pair.quiescent_amperes * pair.emitter_ohms / pair.thermal_volts;
    const double u = amperes / pair.quiescent_amperes;
    double low = std::log(std::max(u, 1.0));
    double high = std::log(u + 1.0);
    double log_a = high;
    double log_b = 0.0;
    for (int i = 0; i < 100; ++i) {
        const double a = std::exp(log_a);
        log_b = log_of_small_current(r, 2.0 * r - log_a - r * a);
        const double b = std::exp(log_b);
        const double excess = a - b - u;
        (excess < 0.0 ? low : high) = log_a;
        double next = log_a - excess / (a + b * (1.0 + r * a) / (1.0 + r * b));
        if (!(next >= low && next <= high)) {
            next = 0.5 * (low + high);
        }
        if (std::abs(next - log_a) < 1e-14) {
            break;
        }
        log_a = next;
    }
    return 0.5 * pair.thermal_volts * (log_a - log_b - r * u);
}

OddTable crossover_table(const OutputPair& pair, double scale) {
    const auto scaled = [&pair, scale](double amperes) {
        return scale * crossover_volts(pair, amperes);
    };
    return {scaled, pair.quiescent_amperes, 32.0};
}

}  // namespace afterload::instruments
