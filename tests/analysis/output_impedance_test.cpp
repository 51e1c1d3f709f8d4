// The drop of a voltage under load against the closed forms of two resistors, and how often the
// stated uncertainty of so ill-conditioned a figure holds.
#include "analysis/output_impedance.hpp"

#include "analysis/scale.hpp"
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

BenchShare bench_with(std::optional<Ohms> load) {
    BenchShare bench = shop_bench();
    bench.load = load;
    return bench;
}

// Volts of a source of `emf` behind `impedance` into `load`; the divider of two resistors.
double loaded_volts(double emf, double impedance, double load) {
    return emf * load / (load + impedance);
}

struct Pair {
    ToneFit loaded;
    ToneFit lighter;
    BenchShare loaded_bench;
    BenchShare lighter_bench;

    [[nodiscard]] Figure impedance(double ratio_u = 0.0, Ohms lead = Ohms{0.0}) const {
        const ToneRecord heavy{{}, loaded, 1, loaded_bench, {}};
        const ToneRecord light{{}, lighter, 1, lighter_bench, {}};
        return output_impedance({heavy, light, ratio_u, "input linearity", lead});
    }
};

Pair open_and_eight(double impedance, double noise = 1e-9) {
    return {fit_of(loaded_volts(2.0, impedance, 8.0), noise), fit_of(2.0, noise), bench_with(8_ohm),
            bench_with(std::nullopt)};
}

TEST(OutputImpedance, FollowsFromOpenAndLoaded) {
    // Z = R (U0 - U1) / U1, and 8 ohm over it.
    for (const double truth : {2.6667, 0.8, 0.4, 0.16, 0.08, 0.04, 0.016}) {
        const Figure figure = open_and_eight(truth).impedance();
        ASSERT_TRUE(figure.value.has_value());
        EXPECT_NEAR(*figure.value, truth, 1e-12);
        EXPECT_EQ(figure.conditions.load, 8_ohm);
        const Figure damping = damping_factor(figure, 8_ohm);
        EXPECT_NEAR(*damping.value, 8.0 / truth, 1e-8);
    }
}

TEST(OutputImpedance, FollowsFromTwoLoads) {
    // E = 2 V, Z = 0.08 ohm, 8 and 4 ohm: 1.9801980198 and 1.9607843137 V.
    const Pair pair{fit_of(1.9607843137), fit_of(1.9801980198), bench_with(4_ohm),
                    bench_with(8_ohm)};
    const Figure figure = pair.impedance();
    EXPECT_NEAR(*figure.value, 0.08, 1e-8);
    EXPECT_EQ(figure.conditions.load, 4_ohm);
    EXPECT_NEAR(*damping_factor(figure, 8_ohm).value, 100.0, 1e-5);
}

TEST(OutputImpedance, ATenthOfAPercentOfTheRatioIsTenPercentAtADampingOfAHundred) {
    // Error of Z for 0.1 % of U0/U1 by damping factor: (1 + DF) / 1000 of it, 10.1 % at 100.
    for (const double damping : {3.0, 10.0, 20.0, 50.0, 100.0, 200.0}) {
        const double truth = 8.0 / damping;
        const Figure figure = open_and_eight(truth).impedance(0.001);
        const BudgetLine* line = line_of(figure, "input linearity");
        ASSERT_NE(line, nullptr);
        EXPECT_NEAR(line->u_k1 / truth, 0.001 * (1.0 + damping), 1e-9) << damping;
    }
}

TEST(OutputImpedance, DoesNotNeedTheCalibrationOfTheVolts) {
    const Figure figure = open_and_eight(0.4).impedance(0.0005);
    EXPECT_EQ(line_of(figure, "range high, left, 2026-03-02"), nullptr);
    // Z goes as the load's ohms: 1 % and, hot, 1.5 % of it.
    EXPECT_NEAR(line_of(figure, "load left, 2026-03-02")->u_k1, 0.004, 1e-12);
    EXPECT_NEAR(line_of(figure, "load left, 2026-03-02, its own heat")->u_k1, 0.006, 1e-12);
}

TEST(OutputImpedance, ThatCannotBeToldFromZeroIsABound) {
    const Figure figure = open_and_eight(0.008).impedance(0.001);
    EXPECT_FALSE(figure.value.has_value());
    ASSERT_TRUE(figure.bound.has_value());
    EXPECT_EQ(figure.bound->side, Bound::Side::at_most);
    // 0.008 + 2 · 0.001 · 8 · 1.001 ohm.
    EXPECT_NEAR(figure.bound->value, 0.024, 2e-4);
    EXPECT_NEAR(detail(figure, "reading"), 0.008, 1e-9);
    const Figure damping = damping_factor(figure, 8_ohm);
    ASSERT_TRUE(damping.bound.has_value());
    EXPECT_EQ(damping.bound->side, Bound::Side::at_least);
    EXPECT_NEAR(damping.bound->value, 8.0 / figure.bound->value, 1e-9);
}

TEST(OutputImpedance, ASharedLeadIsTheRigsPart) {
    const Figure figure = open_and_eight(0.4).impedance(0.0, Ohms{0.05});
    EXPECT_EQ(figure.rig_added, 0.05);
    EXPECT_EQ(figure.rig_cancelled, 0.0);
    // Without the lead the same amplifier has 8 / 0.35.
    EXPECT_NEAR(*damping_factor(figure, 8_ohm).rig_added, 8.0 / 0.35 - 20.0, 1e-9);
    EXPECT_TRUE(open_and_eight(0.04).impedance(0.0, Ohms{0.05}).bound.has_value());
}

TEST(OutputImpedance, SaysWhatItLacks) {
    Pair pair = open_and_eight(0.4);
    pair.loaded_bench.load.reset();
    EXPECT_THAT(pair.impedance().unresolved, HasSubstr("no load"));
    pair = open_and_eight(0.4);
    pair.lighter_bench.load = Ohms{8.2};
    EXPECT_THAT(pair.impedance().unresolved, HasSubstr("too near"));
    pair = open_and_eight(0.4);
    pair.lighter = fit_of(2.0, 1e-6, 1003.0);
    EXPECT_THAT(pair.impedance().unresolved, HasSubstr("different tones"));
    pair = open_and_eight(0.4);
    pair.loaded = fit_of(1e-4, 0.8);
    EXPECT_THAT(pair.impedance().unresolved, HasSubstr("noise"));
    pair = open_and_eight(-0.4);
    EXPECT_THAT(pair.impedance().unresolved, HasSubstr("rose under load"));
    EXPECT_THAT(damping_factor(pair.impedance(), 8_ohm).unresolved, HasSubstr("rose under load"));
}

// Every line of the budget drawn: noise of both records, the ratio, the load and its heat.
TEST(OutputImpedance, HoldsItsUncertainty) {
    constexpr int draws = 600;
    std::mt19937_64 engine{20260302};
    std::normal_distribution<double> normal{0.0, 1.0};
    std::uniform_real_distribution<double> within{-std::sqrt(3.0), std::sqrt(3.0)};
    for (const double truth : {0.8, 0.08, 0.01}) {
        int ohms_held = 0;
        int damping_held = 0;
        for (int draw = 0; draw < draws; ++draw) {
            const double load =
                8.0 * (1.0 + 0.01 * normal(engine)) * (1.0 + 0.015 * within(engine));
            Pair pair{fit_of(loaded_volts(2.0, truth, load) * (1.0 + 3e-4 * normal(engine)), 3e-4),
                      fit_of(2.0 * (1.0 + 3e-4 * normal(engine) + 5e-4 * normal(engine)), 3e-4),
                      bench_with(8_ohm), bench_with(std::nullopt)};
            const Figure figure = pair.impedance(5e-4);
            ohms_held += holds(figure, truth) ? 1 : 0;
            // The damping factor is scored in ohms.
            const Figure damping = damping_factor(figure, 8_ohm);
            if (damping.value) {
                const double u =
                    scored_change(damping.kind, *damping.value, expanded(damping.budget));
                damping_held += std::abs(scored(damping.kind, *damping.value) - truth / 8.0) <= u;
            } else {
                damping_held += holds(damping, 8.0 / truth) ? 1 : 0;
            }
        }
        // 95.4 %; a bound holds in 97.7 %. Three sigma of 600 draws are 2.6 %.
        EXPECT_GE(ohms_held, 0.928 * draws) << truth;
        EXPECT_EQ(damping_held, ohms_held) << truth;
    }
}

}  // namespace
}  // namespace afterload::analysis
