#include "analysis/distortion_limit.hpp"

#include "tests/analysis/bench_and_fit.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace afterload::analysis {
namespace {

using namespace afterload::literals;
using test::detail;
using test::fit_of;
using test::holds;
using test::line_of;
using test::shop_bench;
using testing::HasSubstr;

// A hard clipper between 0.5 and 1 %: the drive rises by 0.251261 - 0.139248 dB and the total power
// by 0.201565 - 0.118469 dB (closed form of a clipped sine).
constexpr double slope_a_decibel_of_power = 0.6931471806 / (0.201565 - 0.118469);
constexpr double slope_a_decibel_of_drive = 0.6931471806 / (0.251261 - 0.139248);

TEST(DistortionLimitedPower, OfARecordAtTheLimitIsItsPower) {
    const ToneFit fit = fit_of(std::sqrt(320.0));
    const BenchShare bench = shop_bench();
    const ToneRecord tone{{}, fit, 1, bench, {}};
    const Figure figure = distortion_limited_power(tone, {0.01, 0.01, 0.0, 50.0});
    EXPECT_EQ(figure.kind, FigureKind::distortion_limited_power);
    EXPECT_NEAR(*figure.value, 40.0, 1e-12);
    EXPECT_EQ(figure.conditions.thd, 0.01);
    EXPECT_NEAR(combined(figure.budget), combined(output_power(tone).budget), 1e-12);
}

TEST(DistortionLimitedPower, StepsFromHalfAPercentToOneAsAHardClipperDoes) {
    const ToneFit fit = fit_of(10.0 * std::pow(10.0, 0.118469 / 20.0));
    const BenchShare bench = shop_bench();
    const double slope = slope_a_decibel_of_power * 8.685889638;
    const Figure figure =
        distortion_limited_power({{}, fit, 1, bench, {}}, {0.01, 0.005, 1e-5, slope});
    // 12.5 W at the onset of clipping; 1.04750587 of it at 1 %.
    EXPECT_NEAR(*figure.value, 12.5 * 1.04750587, 12.5 * 1e-6);
    // Half of the step as a rectangle, and 0.2 % of the distortion by its slope.
    const double step = 0.6931471806 / slope;
    EXPECT_NEAR(line_of(figure, "step to the distortion limit")->u_k1,
                *figure.value * step / 1.7320508, 1e-6);
    EXPECT_NEAR(line_of(figure, "distortion at the limit")->u_k1,
                2.0 * *figure.value * 0.002 / slope, 1e-7);
}

TEST(DistortionLimitedPower, NeverReachedIsAtLeast) {
    const ToneFit fit = fit_of(std::sqrt(320.0));
    const BenchShare bench = shop_bench();
    const Figure figure = distortion_limited_power({{}, fit, 1, bench, {}}, {0.01, 0.0005});
    EXPECT_FALSE(figure.value.has_value());
    ASSERT_TRUE(figure.bound.has_value());
    EXPECT_EQ(figure.bound->side, Bound::Side::at_least);
    EXPECT_NEAR(figure.bound->value, 40.0 - expanded(figure.budget), 1e-12);
    EXPECT_NEAR(detail(figure, "reading"), 40.0, 1e-12);
}

TEST(DistortionLimitedPower, FarAboveTheLimitHasNoFigure) {
    const ToneFit fit = fit_of(std::sqrt(320.0));
    const BenchShare bench = shop_bench();
    const Figure figure = distortion_limited_power({{}, fit, 1, bench, {}}, {0.001, 0.1, 0.0, 2.0});
    EXPECT_FALSE(figure.value.has_value());
    EXPECT_FALSE(figure.bound.has_value());
    EXPECT_THAT(figure.unresolved, HasSubstr("lower level"));
}

TEST(OverloadLevel, IsTheDriveAtTheLimit) {
    const ToneFit fit = fit_of(2.0);
    const BenchShare bench = shop_bench();
    const double slope = slope_a_decibel_of_drive * 8.685889638;
    const double onset = 0.15;
    const double drive = onset * std::pow(10.0, 0.139248 / 20.0);
    const Figure figure =
        overload_level({{}, fit, 1, bench, {}}, VoltsRms{drive}, {0.01, 0.005, 0.0, slope});
    EXPECT_NEAR(*figure.value, onset * std::pow(10.0, 0.251261 / 20.0), 1e-9);
    EXPECT_NEAR(line_of(figure, "source level, 2026-03-02")->u_k1, 0.005 * *figure.value, 1e-12);
    EXPECT_EQ(figure.conditions.thd, 0.01);
}

TEST(OverloadLevel, NotReachedIsAtLeastTheDriveLessItsUncertainty) {
    const ToneFit fit = fit_of(2.0);
    const BenchShare bench = shop_bench();
    const Figure figure = overload_level({{}, fit, 1, bench, {}}, VoltsRms{0.3}, {0.01, 0.001});
    ASSERT_TRUE(figure.bound.has_value());
    EXPECT_NEAR(figure.bound->value, 0.3 * 0.99, 1e-12);
    EXPECT_THAT(overload_level({{}, fit, 1, bench, {}}, VoltsRms{0.0}, {}).unresolved,
                HasSubstr("not driven"));
}

// The slope drawn within a factor of two of the truth, the distortion with its own scatter.
TEST(OverloadLevel, HoldsItsUncertainty) {
    constexpr int draws = 800;
    std::mt19937_64 engine{977};
    std::normal_distribution<double> normal{0.0, 1.0};
    std::uniform_real_distribution<double> unit{-1.0, 1.0};
    const double truth = 0.2;
    const double slope = 40.0;
    int held = 0;
    for (int draw = 0; draw < draws; ++draw) {
        const double step = 0.01 * (1.0 + unit(engine));
        const double drive = truth * std::exp(-step);
        const double thd = 0.01 * std::exp(-step * slope) * (1.0 + 0.02 * normal(engine));
        const double found = slope / (1.0 + 0.5 * unit(engine));
        const ToneFit fit = fit_of(2.0);
        const BenchShare bench = shop_bench();
        const Figure figure = overload_level({{}, fit, 1, bench, {}},
                                             VoltsRms{drive * (1.0 + 0.005 * normal(engine))},
                                             {0.01, thd, 0.02 * thd, found});
        held += holds(figure, truth);
    }
    // 95.4 % less three sigma of 800 draws, 2.2 %.
    EXPECT_GE(held, 0.932 * draws);
}

}  // namespace
}  // namespace afterload::analysis
