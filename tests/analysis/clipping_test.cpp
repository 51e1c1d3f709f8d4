#include "analysis/clipping.hpp"

#include "tests/analysis/bench_and_fit.hpp"
#include "tests/analysis/overdriven.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

namespace afterload::analysis {
namespace {

using namespace afterload::literals;
using test::clipped;
using test::detail;
using test::holds;
using test::shop_bench;
using test::Synthesis;
using testing::HasSubstr;

Figure symmetry_of(const Synthesis& record, double hertz = 997.0) {
    ToneFitSettings settings;
    settings.nominal = Hertz{hertz};
    const auto fit = fit_tone(record, settings);
    EXPECT_TRUE(fit.has_value());
    const BenchShare bench = shop_bench();
    return clipping_symmetry({record, *fit, 1, bench, {}});
}

TEST(ClippingSymmetry, OfTwoRailsIsTheirRatio) {
    const Figure figure = symmetry_of(clipped(21.0, 18.0, 20.0));
    ASSERT_TRUE(figure.value.has_value()) << figure.unresolved;
    EXPECT_NEAR(*figure.value, 0.9, expanded(figure.budget));
    EXPECT_LT(expanded(figure.budget), 1e-4);
    EXPECT_NEAR(detail(figure, "positive_peak_v"), 18.0, 1e-3);
    EXPECT_NEAR(detail(figure, "negative_peak_v"), 20.0, 1e-3);
    EXPECT_NEAR(detail(figure, "rail_difference_v"), -2.0, 1e-3);
    EXPECT_EQ(detail(figure, "first_half"), 1.0);
    EXPECT_EQ(figure.rig_added, 0.0);
}

TEST(ClippingSymmetry, OfEqualRailsIsOneAndNoHalfIsFirst) {
    const Figure figure = symmetry_of(clipped(21.0, 20.0, 20.0));
    ASSERT_TRUE(figure.value.has_value()) << figure.unresolved;
    EXPECT_NEAR(*figure.value, 1.0, expanded(figure.budget));
    EXPECT_EQ(detail(figure, "first_half"), 0.0);
}

TEST(ClippingSymmetry, TellsTheHalfThatClipsFirst) {
    EXPECT_EQ(detail(symmetry_of(clipped(21.0, 20.0, 19.0)), "first_half"), -1.0);
    EXPECT_EQ(detail(symmetry_of(clipped(21.0, 19.0, 20.0)), "first_half"), 1.0);
}

TEST(ClippingSymmetry, IsABoundWhereOnlyOneHalfClips) {
    // The other rail is beyond the crest of 20.5 V.
    const Figure figure = symmetry_of(clipped(20.5, 18.0, 25.0));
    EXPECT_FALSE(figure.value.has_value());
    ASSERT_TRUE(figure.bound.has_value()) << figure.unresolved;
    EXPECT_EQ(figure.bound->side, Bound::Side::at_most);
    EXPECT_NEAR(figure.bound->value, 18.0 / 20.5, 1e-4);
    EXPECT_EQ(detail(figure, "first_half"), 1.0);
    EXPECT_EQ(detail(figure, "negative_clips"), 0.0);
    const Figure other = symmetry_of(clipped(20.5, 25.0, 18.0));
    EXPECT_EQ(other.bound->side, Bound::Side::at_least);
    EXPECT_NEAR(other.bound->value, 20.5 / 18.0, 1e-4);
    EXPECT_EQ(detail(other, "first_half"), -1.0);
}

TEST(ClippingSymmetry, SaysWhatItLacks) {
    EXPECT_THAT(symmetry_of(clipped(15.0, 20.0, 20.0)).unresolved, HasSubstr("neither half clips"));
    EXPECT_THAT(symmetry_of(clipped(90.0, 20.0, 20.0)).unresolved, HasSubstr("drive less"));
    EXPECT_THAT(symmetry_of(clipped(21.0, 20.0, 20.0, 1e-4, 1, 5000.0), 5000.0).unresolved,
                HasSubstr("180000 samples a second"));
    EXPECT_THAT(symmetry_of(clipped(21.0, 20.0, 20.0, 1e-4, 1, 40.0), 40.0).unresolved,
                HasSubstr("too short: 0.6 s"));
}

TEST(ClippingSymmetry, HoldsItsUncertainty) {
    constexpr int draws = 100;
    std::mt19937_64 engine{21};
    std::uniform_real_distribution<double> unit{-1.0, 1.0};
    int held = 0;
    for (int draw = 0; draw < draws; ++draw) {
        const double up = 19.0 + unit(engine);
        const double down = 19.0 + unit(engine);
        const double hertz = 997.0 * (1.0 + 200e-6 * unit(engine));
        const Figure figure = symmetry_of(clipped(21.0, up, down, 0.05, engine(), hertz, 0.1));
        held += holds(figure, up / down) ? 1 : 0;
    }
    // k = 2 of 16 groups is 93.6 % (t with 15 degrees of freedom), less three sigma of 100 draws.
    EXPECT_GE(held, 0.862 * draws);
}

}  // namespace
}  // namespace afterload::analysis
