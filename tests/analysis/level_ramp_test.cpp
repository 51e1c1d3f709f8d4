// The power at a distortion from one rising tone, against closed forms of two clippers.
#include "analysis/level_ramp.hpp"

#include "tests/analysis/bench_and_fit.hpp"
#include "tests/analysis/overdriven.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>

namespace afterload::analysis {
namespace {

using namespace afterload::literals;
using test::decibels;
using test::detail;
using test::holds;
using test::ramp;
using test::shop_bench;
using test::soft;
using test::soft_drive;
using test::soft_fundamental;
using test::watts;
using testing::HasSubstr;

RampSettings settings_for(double seconds, double thd = 0.01) {
    RampSettings settings;
    settings.frequency = 997_Hz;
    settings.length = Seconds{seconds};
    settings.thd = thd;
    return settings;
}

Figure power(const Waveform& record, const RampSettings& settings) {
    return short_term_power(record, 1, shop_bench(), settings, {});
}

TEST(LevelRamp, FindsOnePercentOfASoftClipperToAHundredthOfADecibel) {
    // Worst error in dB of a ramp with 5 ms windows: 0.009 in 0.1 s, 0.003 in 0.2 s, 0.001 in 0.5
    // s.
    const double drive = soft_drive(0.01);
    for (const auto& [seconds, worst] : {std::pair{0.1, 0.009}, {0.2, 0.003}, {0.5, 0.001}}) {
        for (const double below_db : {1.5, 3.0, 4.5}) {
            for (const double phase : {0.0, 1.0, 2.0, 3.0}) {
                const double start = drive * std::pow(10.0, -below_db / 20.0);
                const Figure figure =
                    power(ramp(soft, start, seconds, 1e-5, 1, 997.0, phase), settings_for(seconds));
                ASSERT_TRUE(figure.value.has_value()) << figure.unresolved;
                const double error =
                    decibels(std::sqrt(*figure.value / watts(soft_fundamental(0.01))));
                EXPECT_LE(std::abs(error), worst) << seconds << " s, phase " << phase;
            }
        }
    }
}

TEST(LevelRamp, FindsOnePercentOfAHardClipper) {
    // Clipped at c = 0.971486940 of its peak a sine has 1 % and, with all harmonics, 1.04750587 of
    // the power at the onset. H2 to H9 hold less of it: the closed form summed to H9.
    const auto clip_thd = [](double c) {
        const double alpha = std::asin(c);
        const double pi = test::two_pi / 2.0;
        const double h1 = 2.0 / pi * (alpha + c * std::sqrt(1.0 - c * c));
        double squares = 0.0;
        for (int n = 3; n <= 9; n += 2) {
            const double h =
                2.0 / (n * pi) *
                (std::sin((n - 1) * alpha) / (n - 1) + std::sin((n + 1) * alpha) / (n + 1));
            squares += h * h;
        }
        return std::pair{std::sqrt(squares) / h1, h1};
    };
    double low = 0.9;
    double high = 0.999;
    for (int i = 0; i < 60; ++i) {
        const double c = (low + high) / 2.0;
        (clip_thd(c).first > 0.01 ? low : high) = c;
    }
    const double fundamental = clip_thd(low).second / low;  // rails at 1 V
    const auto hard = [](double x) { return std::clamp(x, -10.0, 10.0); };
    const Figure figure = power(ramp(hard, 7.0, 0.5), settings_for(0.5));
    ASSERT_TRUE(figure.value.has_value()) << figure.unresolved;
    // Harmonics above 24 kHz fold back into a clipper on samples: 0.02 dB and not the ramp.
    EXPECT_NEAR(decibels(std::sqrt(*figure.value / watts(10.0 * fundamental))), 0.0, 0.02);
    EXPECT_NEAR(detail(figure, "total"), *figure.value * 1.0001, 1e-9);
}

TEST(LevelRamp, TellsHowFarTheGainFellBehind) {
    const double drive = soft_drive(0.01);
    const Figure figure = power(ramp(soft, drive / 1.8, 0.5), settings_for(0.5));
    const auto gain = [](double a) { return decibels(1.0 - 0.75 * test::soft_bend * a * a); };
    // Against the first quarter of the ramp, from drive/1.8 up by some 1.5 dB.
    const double start = (gain(drive / 1.8) + gain(drive / 1.8 * std::pow(10.0, 1.5 / 20.0))) / 2.0;
    EXPECT_NEAR(detail(figure, "gain_compression_db"), start - gain(drive), 0.01);
}

TEST(LevelRamp, DoesNotMindSilenceAroundItOrAClockThatIsOff) {
    const double start = soft_drive(0.01) / 1.5;
    const Figure figure = power(ramp(soft, start, 0.2, 1e-5, 3, 997.0 * (1.0 + 500e-6), 0.3, 0.06),
                                settings_for(0.2));
    ASSERT_TRUE(figure.value.has_value()) << figure.unresolved;
    EXPECT_NEAR(decibels(std::sqrt(*figure.value / watts(soft_fundamental(0.01)))), 0.0, 0.004);
    EXPECT_EQ(figure.conditions.thd, 0.01);
    EXPECT_EQ(figure.conditions.highest_order, 9);
    EXPECT_EQ(figure.conditions.load, 8_ohm);
}

TEST(LevelRamp, NeverReachedIsAtLeastTheHighestPower) {
    const double start = soft_drive(0.01) / 4.0;
    const Figure figure = power(ramp(soft, start, 0.2), settings_for(0.2));
    EXPECT_FALSE(figure.value.has_value());
    ASSERT_TRUE(figure.bound.has_value()) << figure.unresolved;
    EXPECT_EQ(figure.bound->side, Bound::Side::at_least);
    const double top = start * std::pow(10.0, 6.0 / 20.0);
    const double truth = watts(top * (1.0 - 0.75 * test::soft_bend * top * top));
    // The last window's middle is half a window and at most a hop, 5 ms, before the end: 0.15 dB.
    EXPECT_LT(detail(figure, "reading"), truth);
    EXPECT_GT(detail(figure, "reading"), 0.965 * truth);
    EXPECT_NEAR(figure.bound->value, detail(figure, "reading") - expanded(figure.budget), 1e-12);
}

TEST(LevelRamp, SaysWhatItLacks) {
    const Waveform high = ramp(soft, soft_drive(0.01) * 1.2, 0.2);
    EXPECT_THAT(power(high, settings_for(0.2)).unresolved, HasSubstr("lower level"));
    BenchShare bench = shop_bench();
    bench.load.reset();
    EXPECT_THAT(short_term_power(high, 1, bench, settings_for(0.2), {}).unresolved,
                HasSubstr("no load"));
    RampSettings settings = settings_for(0.2);
    settings.frequency = 10_kHz;
    EXPECT_THAT(power(high, settings).unresolved, HasSubstr("third harmonic"));
    EXPECT_THAT(
        power(test::Synthesis{48000.0, 0.3}.noise(0.1, 5).waveform(), settings_for(0.2)).unresolved,
        HasSubstr("no rising tone"));
    EXPECT_THAT(power(test::Synthesis{48000.0, 0.005}.waveform(), settings_for(0.2)).unresolved,
                HasSubstr("too short"));
}

// Noise 43 dB below the tone is what moves the figure here; level and load are drawn too.
TEST(LevelRamp, HoldsItsUncertainty) {
    constexpr int draws = 200;
    std::mt19937_64 engine{8};
    std::normal_distribution<double> normal{0.0, 1.0};
    std::uniform_real_distribution<double> unit{0.0, 1.0};
    BenchShare bench = shop_bench();
    bench.level_u_k1 = 0.0005;
    bench.load_u_k1 = 0.001;
    bench.load_heat_u_k1 = 0.0;
    int held = 0;
    for (int draw = 0; draw < draws; ++draw) {
        const double start = soft_drive(0.01) / (1.3 + 0.4 * unit(engine));
        Waveform record = ramp(soft, start, 0.2, 0.01, engine(), 997.0, 6.28 * unit(engine));
        const double off = 1.0 + 0.0005 * normal(engine);
        for (double& volts : record.volts) {
            volts *= off;
        }
        const double truth = watts(soft_fundamental(0.01)) * (1.0 + 0.001 * normal(engine));
        const Figure figure = short_term_power(record, 1, bench, settings_for(0.2), {});
        held += holds(figure, truth) ? 1 : 0;
    }
    // 95.4 % less three sigma of 200 draws, 4.4 %.
    EXPECT_GE(held, 0.91 * draws);
}

}  // namespace
}  // namespace afterload::analysis
