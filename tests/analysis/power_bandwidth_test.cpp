#include "analysis/power_bandwidth.hpp"

#include "tests/analysis/bench_and_fit.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace afterload::analysis {
namespace {

using namespace afterload::literals;
using test::holds;
using testing::HasSubstr;
using By = PowerBandwidthSettings::By;

PowerBandwidthSettings settings_for(By by, bool low = false) {
    return {by, 40_W, 0.01, 1_kHz, low};
}

// Distortion that doubles with every octave above 1 kHz and below 100 Hz: straight on both axes.
double thd_at(double hertz) {
    return 0.0004 * std::max({1.0, hertz / 1000.0, 100.0 / hertz});
}

std::vector<PowerBandwidthPoint> by_distortion(std::initializer_list<double> frequencies) {
    std::vector<PowerBandwidthPoint> points;
    for (const double hertz : frequencies) {
        points.push_back({Hertz{hertz}, 20_W, thd_at(hertz), 0.02});
    }
    return points;
}

TEST(PowerBandwidth, EndsWhereTheDistortionReachesTheRatedOne) {
    // 0.0004 · f / 1 kHz is 1 % at 25 kHz; 0.0004 · 100 Hz / f at 4 Hz.
    const auto points = by_distortion({2.0, 5.0, 100.0, 1000.0, 20000.0, 40000.0});
    const Figure high =
        power_bandwidth(points, settings_for(By::distortion), 1, test::shop_bench(), {});
    ASSERT_TRUE(high.value.has_value()) << high.unresolved;
    EXPECT_NEAR(*high.value, 25000.0, 1e-6);
    const Figure low =
        power_bandwidth(points, settings_for(By::distortion, true), 1, test::shop_bench(), {});
    EXPECT_NEAR(*low.value, 4.0, 1e-9);
    EXPECT_EQ(high.conditions.thd, 0.01);
    EXPECT_EQ(high.conditions.output_level, (LevelTarget{LevelTarget::Kind::rated_fraction, 0.5}));
    EXPECT_FALSE(high.conditions.fall.has_value());
    // 2 % of the distortion is 2 % of the frequency on a slope of one.
    EXPECT_NEAR(test::line_of(high, "distortion at the points")->u_k1, 500.0, 1.0);
}

TEST(PowerBandwidth, EndsWhereThePowerFallsToHalfTheRated) {
    // Power falls with the square of the frequency above 10 kHz: 20 W of 40 at 10 kHz · √2.
    std::vector<PowerBandwidthPoint> points;
    for (const double hertz : {1000.0, 10000.0, 20000.0}) {
        const double over = std::max(1.0, hertz / 10000.0);
        points.push_back({Hertz{hertz}, Watts{40.0 / (over * over)}, 0.01, 0.01});
    }
    const Figure figure =
        power_bandwidth(points, settings_for(By::power), 2, test::shop_bench(), {});
    EXPECT_NEAR(*figure.value, 14142.136, 0.01);
    EXPECT_EQ(figure.channel, 2);
}

TEST(PowerBandwidth, IsABoundWhereItHoldsToTheLastPoint) {
    const auto points = by_distortion({20.0, 1000.0, 20000.0});
    const Figure high =
        power_bandwidth(points, settings_for(By::distortion), 1, test::shop_bench(), {});
    ASSERT_TRUE(high.bound.has_value());
    EXPECT_FALSE(high.value.has_value());
    EXPECT_EQ(high.bound->side, Bound::Side::at_least);
    EXPECT_NEAR(high.bound->value, 20000.0, 1e-6);
    const Figure low =
        power_bandwidth(points, settings_for(By::distortion, true), 1, test::shop_bench(), {});
    EXPECT_EQ(low.bound->side, Bound::Side::at_most);
    EXPECT_NEAR(low.bound->value, 20.0, 1e-9);
}

TEST(PowerBandwidth, TakesDistortionThatWasNotSeenAsSmall) {
    std::vector<PowerBandwidthPoint> points{{1_kHz, 20_W, 0.0, 0.0}, {20_kHz, 20_W, 0.0, 0.0}};
    EXPECT_NEAR(power_bandwidth(points, settings_for(By::distortion), 1, test::shop_bench(), {})
                    .bound->value,
                20000.0, 1e-6);
}

TEST(PowerBandwidth, SaysWhatItLacks) {
    EXPECT_THAT(
        power_bandwidth({}, settings_for(By::distortion), 1, test::shop_bench(), {}).unresolved,
        HasSubstr("no frequency"));
    EXPECT_THAT(power_bandwidth({{1_kHz, 20_W, 0.02, 0.0}}, settings_for(By::distortion), 1,
                                test::shop_bench(), {})
                    .unresolved,
                HasSubstr("even at 1000 Hz"));
    EXPECT_THAT(power_bandwidth({{1_kHz, 20_W, 0.001, 0.0}, {20_kHz, 12_W, 0.002, 0.0}},
                                settings_for(By::distortion), 1, test::shop_bench(), {})
                    .unresolved,
                HasSubstr("not reached at 20000 Hz, 12 W of 20 W"));
}

TEST(PowerBandwidth, HoldsItsUncertainty) {
    constexpr int draws = 800;
    std::mt19937_64 engine{25};
    std::normal_distribution<double> normal{0.0, 1.0};
    int held = 0;
    for (int draw = 0; draw < draws; ++draw) {
        auto points = by_distortion({1000.0, 20000.0, 30000.0});
        for (PowerBandwidthPoint& point : points) {
            point.thd *= 1.0 + 0.02 * normal(engine);
        }
        held +=
            holds(power_bandwidth(points, settings_for(By::distortion), 1, test::shop_bench(), {}),
                  25000.0);
    }
    // The larger of two points' uncertainties serves for both: no less than 95.4 %, less three
    // sigma of 800 draws.
    EXPECT_GE(held, 0.932 * draws);
}

}  // namespace
}  // namespace afterload::analysis
