// One figure over many units: quantiles against worked numbers, bounds that stay bounds, and what
// stands out. And the drift of a rig as a golden box tells it.
#include "analysis/population.hpp"

#include "analysis/rig_drift.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

namespace afterload::analysis {
namespace {

std::vector<UnitReading> values(std::initializer_list<double> all) {
    std::vector<UnitReading> out;
    for (const double one : all) {
        out.push_back({one, std::nullopt});
    }
    return out;
}

TEST(Population, QuartilesAreThoseOfTheInterpolatedOrder) {
    // Hyndman and Fan, definition 7: of 1 2 4 8, a quarter lies at 1.75, the middle at 3, three
    // quarters at 5.
    const Population found = population(values({8.0, 1.0, 4.0, 2.0}));
    EXPECT_EQ(found.units, 4U);
    EXPECT_DOUBLE_EQ(found.lower.value, 1.75);
    EXPECT_DOUBLE_EQ(found.median.value, 3.0);
    EXPECT_DOUBLE_EQ(found.upper.value, 5.0);
    EXPECT_DOUBLE_EQ(found.least, 1.0);
    EXPECT_DOUBLE_EQ(found.greatest, 8.0);
}

TEST(Population, OfNobodyHasNoUnits) {
    EXPECT_EQ(population({}).units, 0U);
    EXPECT_EQ(population({{std::numeric_limits<double>::quiet_NaN(), std::nullopt}}).units, 0U);
}

TEST(Population, AQuantileThatFallsOnABoundIsABound) {
    std::vector<UnitReading> readings = values({0.004, 0.005, 0.006});
    readings.push_back({0.002, Bound::Side::at_most});
    readings.push_back({0.003, Bound::Side::at_most});
    const Population found = population(readings);
    EXPECT_EQ(found.bounds, 2U);
    EXPECT_FALSE(found.median.bound);
    EXPECT_DOUBLE_EQ(found.median.value, 0.004);
    EXPECT_EQ(found.lower.bound, Bound::Side::at_most);
    EXPECT_DOUBLE_EQ(found.lower.value, 0.003);
}

TEST(Population, AUnitThatEqualsAnotherStandsHalfAboveIt) {
    EXPECT_DOUBLE_EQ(below(values({1.0, 2.0, 2.0, 3.0}), 2.0), 2.0);
    EXPECT_DOUBLE_EQ(below(values({1.0, 2.0, 3.0}), 0.5), 0.0);
    EXPECT_DOUBLE_EQ(below(values({1.0, 2.0, 3.0}), 9.0), 3.0);
}

TEST(Population, OfNineUnitsNothingIsSaidToStandOut) {
    std::vector<UnitReading> nine;
    for (int i = 0; i < 9; ++i) {
        nine.push_back({1.0 + 0.01 * i, std::nullopt});
    }
    EXPECT_FALSE(stands_out(population(nine), 100.0));
    nine.push_back({1.09, std::nullopt});
    EXPECT_TRUE(stands_out(population(nine), 100.0));
}

TEST(Population, OfNormalUnitsThreeInAThousandStandOut) {
    // 0.27 % of a normal population lie beyond three deviations: 27 of 10000, and as many more as
    // the counting (5) and the spread's own uncertainty (1.6 % of 3 deviations: 4) allow.
    std::mt19937 draw{7};
    std::normal_distribution<double> normal{10.0, 2.0};
    std::vector<UnitReading> units;
    for (int i = 0; i < 10000; ++i) {
        units.push_back({normal(draw), std::nullopt});
    }
    const Population found = population(units);
    int out = 0;
    for (const UnitReading& one : units) {
        out += stands_out(found, one.value) ? 1 : 0;
    }
    EXPECT_NEAR(out, 27, 4 * (5 + 4));
    EXPECT_GT(out, 0);
}

TEST(Population, WhereTheMiddleIsABoundNothingStandsOut) {
    std::vector<UnitReading> units(12, UnitReading{0.002, Bound::Side::at_most});
    EXPECT_FALSE(stands_out(population(units), 1.0));
}

TEST(RigDrift, OfARatioIsAFactorReItsOwnMiddle) {
    const auto drift =
        rig_drift(FigureKind::output_voltage, {{0.0, 0.99}, {100.0, 1.00}, {200.0, 1.01}});
    ASSERT_TRUE(drift);
    EXPECT_DOUBLE_EQ(drift->at(0.0), 0.99);
    EXPECT_DOUBLE_EQ(drift->at(150.0), 1.005);
    EXPECT_DOUBLE_EQ(drift->taken_off(20.2, 200.0), 20.0);
    EXPECT_NEAR(drift->range(), 0.02, 1e-12);
}

TEST(RigDrift, OfDecibelsIsADifference) {
    const auto drift = rig_drift(FigureKind::gain, {{200.0, 20.1}, {0.0, 20.0}, {100.0, 20.0}});
    ASSERT_TRUE(drift);
    EXPECT_NEAR(drift->taken_off(41.5, 200.0), 41.4, 1e-12);
    EXPECT_NEAR(drift->taken_off(41.5, 150.0), 41.45, 1e-12);
}

TEST(RigDrift, OutsideItsReadingsIsThatOfTheNearest) {
    const auto drift = rig_drift(FigureKind::gain, {{10.0, 1.0}, {20.0, 2.0}, {30.0, 3.0}});
    ASSERT_TRUE(drift);
    EXPECT_DOUBLE_EQ(drift->at(0.0), drift->at(10.0));
    EXPECT_DOUBLE_EQ(drift->at(99.0), drift->at(30.0));
}

TEST(RigDrift, OfTwoReadingsIsNone) {
    EXPECT_FALSE(rig_drift(FigureKind::gain, {{0.0, 1.0}, {1.0, 2.0}}));
}

TEST(RigDrift, OfADistortionOrANoiseIsNeverTakenOff) {
    for (const FigureKind kind :
         {FigureKind::thd, FigureKind::thd_plus_noise, FigureKind::noise_voltage,
          FigureKind::hum_voltage, FigureKind::channel_separation, FigureKind::signal_to_noise}) {
        EXPECT_FALSE(rig_drift(kind, {{0.0, 1.0}, {1.0, 2.0}, {2.0, 3.0}})) << name(kind);
    }
}

TEST(RigDrift, WhatTheBoxShowsIsWhatComesOffTheUnits) {
    // The rig drifts by 0.3 dB over a year, unevenly; units spread by 0.1 dB. With the drift taken
    // off the spread is the units' own again.
    const auto rig = [](double day) { return 0.3 * day / 365.0 + 0.05 * std::sin(day / 40.0); };
    std::vector<GoldenReading> box;
    for (double day = 0.0; day <= 370.0; day += 10.0) {
        box.push_back({day, 20.0 + rig(day)});
    }
    const auto drift = rig_drift(FigureKind::gain, box);
    ASSERT_TRUE(drift);
    std::mt19937 draw{3};
    std::normal_distribution<double> unit{41.5, 0.1};
    std::vector<UnitReading> as_they_are;
    std::vector<UnitReading> as_read;
    std::vector<UnitReading> taken_off;
    for (int i = 0; i < 366; ++i) {
        const double own = unit(draw);
        as_they_are.push_back({own, std::nullopt});
        as_read.push_back({own + rig(i), std::nullopt});
        taken_off.push_back({drift->taken_off(own + rig(i), i), std::nullopt});
    }
    const auto spread = [](const std::vector<UnitReading>& of) {
        const Population found = population(of);
        return found.upper.value - found.lower.value;
    };
    EXPECT_NEAR(spread(taken_off), spread(as_they_are), 0.002);
    EXPECT_GT(spread(as_read), spread(as_they_are) + 0.03);
}

}  // namespace
}  // namespace afterload::analysis
