#include "analysis/coverage_factor.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {

namespace {

// From here on the normal distribution is Student's to five digits.
constexpr double as_good_as_infinite = 1e4;

// The chance that |t| stays below `t`, for a whole number of degrees of freedom: the finite series
// of Abramowitz and Stegun, 26.7.3 and 26.7.4.
double inside(double t, int degrees) {
    const double theta = std::atan(t / std::sqrt(static_cast<double>(degrees)));
    const double square = std::cos(theta) * std::cos(theta);
    const bool odd = degrees % 2 == 1;
    double term = odd ? std::cos(theta) : 1.0;
    double sum = 0.0;
    for (int i = odd ? 1 : 0; i <= degrees - 2; i += 2) {
        sum += term;
        term *= square * (i + 1.0) / (i + 2.0);
    }
    const double series = std::sin(theta) * sum;
    return odd ? 2.0 / std::numbers::pi * (theta + series) : series;
}

// The chance that |x| of a normal deviate stays below `k`.
double inside(double k) {
    return std::erf(k / std::numbers::sqrt2);
}

template <class Chance>
double where(const Chance& chance, double wanted) {
    double low = 0.0;
    double high = 4.0;
    while (chance(high) < wanted && high < 1e12) {
        high *= 2.0;
    }
    for (int step = 0; step < 200 && high - low > 1e-13 * high; ++step) {
        const double middle = 0.5 * (low + high);
        (chance(middle) < wanted ? low : high) = middle;
    }
    return 0.5 * (low + high);
}

}  // namespace

double coverage_factor(double degrees_of_freedom, int choices) {
    const double one = inside(2.0);
    const double wanted = choices > 1 ? std::pow(one, 1.0 / choices) : one;
    if (!(degrees_of_freedom < as_good_as_infinite)) {
        return choices > 1 ? where([](double k) { return inside(k); }, wanted) : 2.0;
    }
    const int degrees = static_cast<int>(std::max(1.0, std::floor(degrees_of_freedom)));
    return where([degrees](double t) { return inside(t, degrees); }, wanted);
}

}  // namespace afterload::analysis
