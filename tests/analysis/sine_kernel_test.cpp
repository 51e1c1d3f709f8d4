// The loops of a fit: the same bits from every kernel, and what the sums are by definition.
#include "analysis/sine_kernel.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <random>
#include <vector>

namespace afterload::analysis {
namespace {

constexpr std::size_t count = 64 * TurningSines::lanes;  // as many as are begun at once
constexpr double first_t = 100.5;

std::vector<double> drawn(std::uint64_t seed) {
    std::mt19937_64 random{seed};
    std::normal_distribution<double> normal;
    std::vector<double> values(count);
    for (double& value : values) {
        value = normal(random);
    }
    return values;
}

/// What one kernel makes of the same samples.
struct Made {
    LaneSums sums;
    LaneSums timed;
    LaneSums projected;
    std::vector<double> even = drawn(3);
    std::vector<double> odd = drawn(4);
};

Made made_by(const SineKernel& kernel, double omega) {
    const std::vector<double> a = drawn(1);
    const std::vector<double> b = drawn(2);
    const SineLine line{omega};
    Made made;
    TurningSines turning = line.at(first_t);
    kernel.sums(a.data(), b.data(), count, turning, made.sums);
    turning = line.at(first_t);
    kernel.sums_with_time(a.data(), b.data(), count, first_t, turning, made.timed);
    turning = line.at(first_t);
    kernel.project(a.data(), b.data(), count, turning, made.projected);
    kernel.add(0.7, -0.3, count, line.at(first_t), made.even.data(), made.odd.data());
    return made;
}

bool same_bits(const LaneSums& a, const LaneSums& b) {
    return std::memcmp(&a, &b, sizeof a) == 0;
}

constexpr double omegas[] = {1e-4, 0.013, 0.13, 1.0, 2.9, 3.14};

TEST(SineKernel, GivesTheSameBitsOnEveryProcessor) {
    if (!has_wide_sine_kernel()) {
        GTEST_SKIP() << "this processor has no vectors of four";
    }
    for (const double omega : omegas) {
        const Made narrow = made_by(narrow_sine_kernel(), omega);
        const Made wide = made_by(wide_sine_kernel(), omega);
        EXPECT_TRUE(same_bits(narrow.sums, wide.sums)) << omega;
        EXPECT_TRUE(same_bits(narrow.timed, wide.timed)) << omega;
        EXPECT_TRUE(same_bits(narrow.projected, wide.projected)) << omega;
        EXPECT_EQ(narrow.even, wide.even) << omega;
        EXPECT_EQ(narrow.odd, wide.odd) << omega;
    }
}

// Against the definition, each sine computed by itself. A lane's error grows by about one rounding
// a turn: 64 turns, some 1e-14 re a sample, and at most twice that times the time.
TEST(SineKernel, SumsWhatIsDefined) {
    const std::vector<double> a = drawn(1);
    const std::vector<double> b = drawn(2);
    for (const double omega : omegas) {
        const Made made = made_by(sine_kernel(), omega);
        long double cosine = 0.0L;
        long double sine = 0.0L;
        long double t_cosine = 0.0L;
        long double t_sine = 0.0L;
        long double projected = 0.0L;
        double most = 0.0;
        const std::vector<double> even = drawn(3);
        const std::vector<double> odd = drawn(4);
        for (std::size_t n = 0; n < count; ++n) {
            const double t = first_t + static_cast<double>(n);
            const long double c = std::cos(static_cast<long double>(omega) * t);
            const long double s = std::sin(static_cast<long double>(omega) * t);
            cosine += a[n] * c;
            sine += b[n] * s;
            t_cosine += t * b[n] * c;
            t_sine += t * a[n] * s;
            projected += a[n] * b[n] * c;
            most = std::max({most, std::abs(made.even[n] - even[n] - 0.7 * static_cast<double>(c)),
                             std::abs(made.odd[n] - odd[n] + 0.3 * static_cast<double>(s))});
        }
        constexpr double bound = 1e-13 * 32.0;  // of a thousand samples of one volt, in quadrature
        EXPECT_NEAR(total(made.sums.cosine), static_cast<double>(cosine), bound) << omega;
        EXPECT_NEAR(total(made.sums.sine), static_cast<double>(sine), bound) << omega;
        EXPECT_NEAR(total(made.timed.cosine), static_cast<double>(cosine), bound) << omega;
        EXPECT_NEAR(total(made.timed.t_cosine), static_cast<double>(t_cosine), 1.2e3 * bound)
            << omega;
        EXPECT_NEAR(total(made.timed.t_sine), static_cast<double>(t_sine), 1.2e3 * bound) << omega;
        EXPECT_NEAR(total(made.projected.cosine), static_cast<double>(projected), bound) << omega;
        EXPECT_LT(most, 1e-13) << omega;
    }
}

}  // namespace
}  // namespace afterload::analysis
