#include "analysis/control_range.hpp"

#include "tests/analysis/bench_and_fit.hpp"
#include "tests/analysis/synthesis.hpp"

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

Figure range_error(double at_end, double flat, Gain rated, double drive_at_end = 0.1,
                   double noise = 1e-9) {
    const ToneFit end = fit_of(at_end, noise);
    const ToneFit middle = fit_of(flat, noise);
    const BenchShare bench = shop_bench();
    return tone_range_error({{{}, end, 1, bench, {}}, VoltsRms{drive_at_end}},
                            {{{}, middle, 1, bench, {}}, VoltsRms{0.1}}, rated);
}

TEST(ToneRangeError, IsTheBoostLessTheRatedOne) {
    const Figure boost = range_error(std::pow(10.0, 9.0 / 20.0), 1.0, Gain{10.0});
    EXPECT_NEAR(*boost.value, -1.0, 1e-9);
    EXPECT_NEAR(detail(boost, "range_db"), 9.0, 1e-9);
    const Figure cut = range_error(std::pow(10.0, -9.0 / 20.0), 1.0, Gain{-10.0});
    EXPECT_NEAR(*cut.value, 1.0, 1e-9);
}

TEST(ToneRangeError, AllowsForDrivesThatDiffer) {
    const Figure figure = range_error(1.0, 1.0, Gain{10.0}, 0.1 / std::sqrt(10.0));
    EXPECT_NEAR(*figure.value, 0.0, 1e-9);
    EXPECT_LT(combined(figure.budget), 1e-6);
}

TEST(ToneRangeError, SaysWhatItLacks) {
    EXPECT_THAT(range_error(1.0, 1.0, Gain{10.0}, 0.0).unresolved, HasSubstr("not driven"));
    EXPECT_THAT(range_error(1.0, 1.0, Gain{10.0}, 0.1, 0.9).unresolved, HasSubstr("noise"));
    const ToneFit end = fit_of(1.0, 1e-6, 100.3);
    const ToneFit flat = fit_of(1.0, 1e-6, 9970.0);
    const BenchShare bench = shop_bench();
    EXPECT_THAT(tone_range_error({{{}, end, 1, bench, {}}, 1_Vrms},
                                 {{{}, flat, 1, bench, {}}, 1_Vrms}, Gain{10.0})
                    .unresolved,
                HasSubstr("different tones"));
}

Figure balance(double left, double right, double noise = 1e-9) {
    const ToneFit first = fit_of(left, noise);
    const ToneFit second = fit_of(right, noise);
    const BenchShare bench = shop_bench();
    return channel_balance({{}, first, 1, bench, {}}, {{}, second, 2, bench, {}});
}

TEST(VolumeTracking, IsTheWorstMarkAgainstMaximum) {
    const Figure figure = volume_tracking(balance(10.0, 9.9), {{"-20 dB", balance(1.0, 1.05)},
                                                               {"-40 dB", balance(0.1, 0.12)},
                                                               {"9 o'clock", balance(2.0, 1.9)}});
    EXPECT_NEAR(*figure.value, test::decibels(0.1 / 0.12 * 9.9 / 10.0), 1e-9);
    EXPECT_NEAR(detail(figure, "balance_change_at_-20 dB"), test::decibels(9.9 / 10.0 / 1.05),
                1e-9);
    EXPECT_EQ(figure.conditions.volume, "-40 dB");
    EXPECT_EQ(figure.pair, std::make_pair(1, 2));
    EXPECT_EQ(figure.rig_added, 0.0);
}

TEST(VolumeTracking, DoesNotNeedTheBalanceOfTheInputs) {
    const Figure figure =
        volume_tracking(balance(10.0, 9.9, 1e-3), {{"-20 dB", balance(1.0, 1.05, 2e-3)}});
    EXPECT_EQ(line_of(figure, "range high, left against right, 2026-03-02"), nullptr);
    // Noise of two channels at the mark and at maximum.
    EXPECT_NEAR(combined(figure.budget), 8.685889638 * std::sqrt(2.0 * (4e-6 + 1e-6)), 1e-9);
    EXPECT_NEAR(detail(figure, "u_at_-20 dB"), combined(figure.budget), 1e-15);
}

TEST(VolumeTracking, NamesTheMarkThatHasNoBalance) {
    const Figure dead = volume_tracking(balance(10.0, 9.9), {{"zero", balance(1e-5, 1e-5, 0.8)}});
    EXPECT_THAT(dead.unresolved, HasSubstr("at zero: no tone stands out"));
    EXPECT_THAT(volume_tracking(balance(10.0, 9.9), {}).unresolved, HasSubstr("no mark"));
    EXPECT_THAT(volume_tracking(Figure{}, {{"zero", balance(1.0, 1.0)}}).unresolved,
                HasSubstr("at maximum"));
}

TEST(VolumeTracking, HoldsItsUncertainty) {
    constexpr int draws = 800;
    std::mt19937_64 engine{3};
    std::normal_distribution<double> normal{0.0, 1.0};
    const double truth = test::decibels(1.1 / 1.02);
    int held = 0;
    for (int draw = 0; draw < draws; ++draw) {
        const double inputs = 1.0 + 0.001 * normal(engine);
        const auto read = [&](double volts, double noise) {
            return volts * (1.0 + noise * normal(engine));
        };
        const Figure figure = volume_tracking(
            balance(inputs * read(10.2, 0.001), read(10.0, 0.001), 0.001),
            {{"-40 dB", balance(inputs * read(0.11, 0.005), read(0.1, 0.005), 0.005)}});
        held += holds(figure, truth);
    }
    EXPECT_GE(held, 0.932 * draws);  // 95.4 % less three sigma of 800 draws
    EXPECT_LE(held, 0.976 * draws);
}

}  // namespace
}  // namespace afterload::analysis
