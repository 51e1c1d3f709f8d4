#include "analysis/input_sensitivity.hpp"

#include "tests/analysis/bench_and_fit.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace afterload::analysis {
namespace {

using namespace afterload::literals;
using test::fit_of;
using test::holds;
using test::line_of;
using test::shop_bench;
using testing::HasSubstr;

TEST(InputSensitivity, IsTheDriveThatGivesTheRatedPower) {
    // 150 mV for 40 W in 8 ohm is a gain of 41.53 dB (17.8885 V over 0.15 V).
    const ToneFit fit = fit_of(std::sqrt(40.0 * 8.0));
    const BenchShare bench = shop_bench();
    const Figure figure = input_sensitivity({{}, fit, 1, bench, {}}, VoltsRms{0.150}, 40_W);
    EXPECT_NEAR(*figure.value, 0.150, 1e-12);
    EXPECT_EQ(figure.conditions.output_level, (LevelTarget{LevelTarget::Kind::output_power, 40.0}));
    EXPECT_EQ(figure.rig_added, 0.0);
}

TEST(InputSensitivity, StepsFromARecordNearTheRatedOutput) {
    const ToneFit fit = fit_of(1.9);
    const BenchShare bench = shop_bench();
    const Figure figure = input_sensitivity({{}, fit, 2, bench, {}}, VoltsRms{0.19}, VoltsRms{2.0});
    EXPECT_NEAR(*figure.value, 0.2, 1e-12);
    EXPECT_EQ(figure.channel, 2);
    // A third of the step, as a rectangle: 0.3 · ln(2/1.9) / √3 of 0.2 V.
    EXPECT_NEAR(line_of(figure, "gain over the last step")->u_k1, 0.2 * 0.3 * 0.0512933 / 1.7320508,
                1e-7);
    // Volts are asked for: the load does not matter.
    EXPECT_EQ(line_of(figure, "load left, 2026-03-02"), nullptr);
}

TEST(InputSensitivity, CarriesLevelDriveAndHalfTheLoad) {
    const ToneFit fit = fit_of(std::sqrt(320.0));
    const BenchShare bench = shop_bench();
    const Figure figure = input_sensitivity({{}, fit, 1, bench, {}}, VoltsRms{0.150}, 40_W);
    const double relative =
        std::sqrt(0.007 * 0.007 + 0.005 * 0.005 + 0.005 * 0.005 + 0.0075 * 0.0075);
    EXPECT_NEAR(combined(figure.budget) / 0.150, relative, 1e-8);
}

TEST(InputSensitivity, RefusesARecordMoreThanOneDecibelAway) {
    const ToneFit fit = fit_of(1.7);  // 1.41 dB below 2 V
    const BenchShare bench = shop_bench();
    const Figure figure = input_sensitivity({{}, fit, 1, bench, {}}, VoltsRms{0.17}, VoltsRms{2.0});
    EXPECT_FALSE(figure.value.has_value());
    EXPECT_THAT(figure.unresolved, HasSubstr("1.41 dB below"));
    const Figure above = input_sensitivity({{}, fit, 1, bench, {}}, VoltsRms{0.17}, VoltsRms{1.5});
    EXPECT_THAT(above.unresolved, HasSubstr("1.09 dB above"));
}

TEST(InputSensitivity, NeedsDriveToneAndForWattsALoad) {
    const ToneFit fit = fit_of(2.0);
    BenchShare bench = shop_bench();
    EXPECT_THAT(input_sensitivity({{}, fit, 1, bench, {}}, VoltsRms{0.0}, VoltsRms{2.0}).unresolved,
                HasSubstr("not driven"));
    bench.load.reset();
    EXPECT_THAT(input_sensitivity({{}, fit, 1, bench, {}}, VoltsRms{0.2}, 1_W).unresolved,
                HasSubstr("with the load"));
    const ToneFit noise = fit_of(2.0, 0.8);
    EXPECT_THAT(
        input_sensitivity({{}, noise, 1, bench, {}}, VoltsRms{0.2}, VoltsRms{2.0}).unresolved,
        HasSubstr("noise"));
}

// A gain that bends by up to 0.3 of the step, everything else drawn from its own line.
TEST(InputSensitivity, HoldsItsUncertainty) {
    constexpr int draws = 800;
    std::mt19937_64 engine{4711};
    std::normal_distribution<double> normal{0.0, 1.0};
    std::uniform_real_distribution<double> unit{-1.0, 1.0};
    const double truth = 0.2;  // for 2 V
    int held = 0;
    for (int draw = 0; draw < draws; ++draw) {
        const double step = 0.05 * unit(engine);  // in nepers
        const double drive = truth * std::exp(-step);
        const double volts = 2.0 * std::exp(-step * (1.0 + 0.3 * unit(engine)));
        const double read = volts * (1.0 + 0.007 * normal(engine) + 0.001 * normal(engine));
        const double stated = drive * (1.0 + 0.005 * normal(engine));
        const ToneFit fit = fit_of(read, 0.001);
        const BenchShare bench = shop_bench();
        held += holds(input_sensitivity({{}, fit, 1, bench, {}}, VoltsRms{stated}, VoltsRms{2.0}),
                      truth);
    }
    // 95.4 % less three sigma of 800 draws, 2.2 %.
    EXPECT_GE(held, 0.932 * draws);
}

}  // namespace
}  // namespace afterload::analysis
