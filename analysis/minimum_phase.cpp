#include "analysis/minimum_phase.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <vector>

namespace afterload::analysis {

namespace {

constexpr double pi = std::numbers::pi;
constexpr std::size_t chord = 4;
constexpr double whole = pi * pi / 4.0;  // of ln coth(u/2) over all u > 0

/// ∫ ln coth(|x|/2) dx from 0 to u: π²/4 - 2 Σ e^{-nu}/n² over odd n, odd in u.
double weight_up_to(double u) {
    const double size = std::abs(u);
    if (size > 36.0) {
        return std::copysign(whole, u);
    }
    double integral = 0.0;
    if (size < 0.1) {
        // ln coth(x/2) = ln 2 - ln x + x²/12 - …
        integral = size > 0.0 ? size * (std::numbers::ln2 - std::log(size) + 1.0) +
                                    size * size * size / 36.0
                              : 0.0;
    } else {
        const double square = std::exp(-2.0 * size);
        double power = std::exp(-size);
        double sum = 0.0;
        for (int n = 1; power > 1e-12; n += 2) {
            sum += power / (n * n);
            power *= square;
        }
        integral = whole - 2.0 * sum;
    }
    return std::copysign(integral, u);
}

struct Magnitude {
    std::vector<double> log_frequency;  ///< ln tan(πf/rate)
    std::vector<double> slope;          ///< of ln|H| between neighbours
    double slope_below = 0.0;
    double slope_above = 0.0;
};

Magnitude magnitude_of(std::span<const double> hertz,
                       std::span<const std::complex<double>> response, double rate) {
    Magnitude m;
    std::vector<double> level;
    for (std::size_t i = 0; i < hertz.size(); ++i) {
        m.log_frequency.push_back(std::log(std::tan(pi * hertz[i] / rate)));
        level.push_back(std::log(std::abs(response[i])));
    }
    for (std::size_t i = 0; i + 1 < level.size(); ++i) {
        m.slope.push_back((level[i + 1] - level[i]) /
                          (m.log_frequency[i + 1] - m.log_frequency[i]));
    }
    // Over several values: noise on two neighbours would count for all that lies beyond.
    const std::size_t last = level.size() - 1;
    m.slope_below = (level[chord] - level[0]) / (m.log_frequency[chord] - m.log_frequency[0]);
    m.slope_above = (level[last] - level[last - chord]) /
                    (m.log_frequency[last] - m.log_frequency[last - chord]);
    return m;
}

double minimum_phase(const Magnitude& m, double log_frequency) {
    const auto at = [&](std::size_t i) { return weight_up_to(m.log_frequency[i] - log_frequency); };
    double before = at(0);
    double phase = m.slope_below * (before + whole);
    for (std::size_t i = 0; i < m.slope.size(); ++i) {
        const double after = at(i + 1);
        phase += m.slope[i] * (after - before);
        before = after;
    }
    phase += m.slope_above * (whole - before);
    return phase / pi;
}

}  // namespace

std::optional<ExcessDelay> excess_delay(std::span<const double> hertz,
                                        std::span<const std::complex<double>> response,
                                        double rate) {
    constexpr std::size_t least = 20;
    if (hertz.size() < least || hertz.back() < 10.0 * hertz.front()) {
        return std::nullopt;
    }
    const Magnitude magnitude = magnitude_of(hertz, response, rate);
    std::vector<double> turn;  // radians a sample
    std::vector<double> excess;
    for (std::size_t i = 0; i < hertz.size(); ++i) {
        if (hertz[i] < 20.0 || hertz[i] > 0.2 * rate) {
            continue;
        }
        const double beyond =
            std::arg(response[i]) - minimum_phase(magnitude, magnitude.log_frequency[i]);
        const double last = excess.empty() ? 0.0 : excess.back();
        excess.push_back(last + std::remainder(beyond - last, 2.0 * pi));
        turn.push_back(2.0 * pi * hertz[i] / rate);
    }
    if (excess.size() < least) {
        return std::nullopt;
    }
    const auto through = [&](double polarity) {
        double products = 0.0;
        double squares = 0.0;
        for (std::size_t i = 0; i < turn.size(); ++i) {
            products += turn[i] * (excess[i] - polarity);
            squares += turn[i] * turn[i];
        }
        const double slope = products / squares;
        double rest = 0.0;
        for (std::size_t i = 0; i < turn.size(); ++i) {
            const double error = excess[i] - polarity - slope * turn[i];
            rest += error * error;
        }
        return std::pair{rest, slope};
    };
    const auto upright = through(0.0);
    const auto plus = through(pi);
    const auto minus = through(-pi);
    const auto best = std::min({upright, plus, minus});
    return ExcessDelay{-best.second, best != upright};
}

}  // namespace afterload::analysis
