// The equations that every fit goes through, against a fitted line of the GUM.
#include "analysis/normal_equations.hpp"

#include "tests/analysis/published.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>

namespace afterload::analysis {
namespace {

constexpr std::array degrees{21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                             24.513, 25.002, 25.503, 26.010, 26.511};
constexpr std::array correction{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165,
                                -0.156, -0.157, -0.159, -0.161, -0.160};

/// The line through the corrections with its constant term at `zero` degrees Celsius.
struct Line {
    double at_zero = 0.0;
    double slope = 0.0;
    double at_zero_u = 0.0;
    double slope_u = 0.0;
    double scatter = 0.0;
};

Line line_re(double zero) {
    NormalEquations equations{2};
    for (std::size_t i = 0; i < degrees.size(); ++i) {
        const double t = degrees.at(i) - zero;
        equations.at(0, 0) += 1.0;
        equations.at(1, 0) += t;
        equations.at(1, 1) += t * t;
        equations.right(0) += correction.at(i);
        equations.right(1) += t * correction.at(i);
    }
    const auto solution = equations.solve();
    if (!solution) {
        ADD_FAILURE() << "two columns cannot be told apart";
        return {};
    }
    double squares = 0.0;
    for (std::size_t i = 0; i < degrees.size(); ++i) {
        const double left =
            correction.at(i) - solution->values[0] - solution->values[1] * (degrees.at(i) - zero);
        squares += left * left;
    }
    const double scatter = std::sqrt(squares / (static_cast<double>(degrees.size()) - 2.0));
    return {solution->values[0], solution->values[1],
            scatter * std::sqrt(solution->inverse_diagonal[0]),
            scatter * std::sqrt(solution->inverse_diagonal[1]), scatter};
}

TEST(NormalEquations, FitTheCalibrationLineOfTheGum) {
    const auto check = [](const char* what, double computed, double reference, double allowed) {
        test::expect_published("GUM (JCGM 100:2008), H.3", what, computed, reference, allowed);
    };
    const Line line = line_re(20.0);
    check("correction at 20 degC, degC", line.at_zero, -0.1712, 5e-5);
    check("correction at 20 degC, u, degC", line.at_zero_u, 0.0029, 5e-5);
    check("slope", line.slope, 0.00218, 5e-6);
    check("slope, u", line.slope_u, 0.00067, 5e-6);
    check("scatter about the line, degC", line.scatter, 0.0035, 5e-5);
    // The same line with its constant term at 30: what the two terms share is in its uncertainty.
    const Line at_thirty = line_re(30.0);
    check("correction at 30 degC, degC", at_thirty.at_zero, -0.1494, 5e-5);
    check("correction at 30 degC, u, degC", at_thirty.at_zero_u, 0.0041, 5e-5);
    // u²(b30) = u²(y1) + 100 u²(y2) + 20 r u(y1) u(y2).
    const double own = std::pow(line.at_zero_u, 2) + 100.0 * std::pow(line.slope_u, 2);
    const double shared = std::pow(at_thirty.at_zero_u, 2) - own;
    check("correlation of the two terms", shared / (20.0 * line.at_zero_u * line.slope_u), -0.930,
          5e-4);
}

TEST(NormalEquations, TellNothingWhereTwoColumnsAreOne) {
    NormalEquations equations{2};
    equations.at(0, 0) = equations.at(1, 0) = equations.at(1, 1) = 3.0;
    EXPECT_FALSE(equations.solve());
}

}  // namespace
}  // namespace afterload::analysis
