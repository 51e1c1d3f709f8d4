// How often the uncertainty of a figure holds that comes from many samples, or from a difference of
// two nearly equal voltages. 2000 draws know a coverage of 95 % to 0.5 %.
#include "analysis/clipping.hpp"
#include "analysis/level_ramp.hpp"
#include "analysis/output_impedance.hpp"
#include "tests/analysis/bench_and_fit.hpp"
#include "tests/analysis/overdriven.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <string>

namespace afterload::analysis {
namespace {

using namespace afterload::literals;
using test::fit_of;
using test::holds;
using test::shop_bench;

constexpr int draws = 2000;

void record(const char* what, double number) {
    testing::Test::RecordProperty(what, std::to_string(number));
}

struct Ramps {
    double held = 0.0;
    double mean_db = 0.0;  // of the error
    double mean_u_db = 0.0;
};

// A soft clipper's 1 % with white noise of `noise` volts beside some 2 V.
Ramps ramps(double noise) {
    std::mt19937_64 engine{static_cast<std::uint64_t>(1e6 * noise)};
    std::uniform_real_distribution<double> unit{0.0, 1.0};
    BenchShare bench = shop_bench();
    bench.level_u_k1 = 0.0;
    bench.load_u_k1 = 0.0;
    bench.load_heat_u_k1 = 0.0;
    RampSettings settings;
    settings.frequency = 997_Hz;
    const double truth = test::watts(test::soft_fundamental(0.01));
    Ramps result;
    for (int draw = 0; draw < draws; ++draw) {
        const double start = test::soft_drive(0.01) / (1.3 + 0.4 * unit(engine));
        const Waveform wave =
            test::ramp(test::soft, start, 0.2, noise, engine(), 997.0, 6.28 * unit(engine));
        const Figure figure = short_term_power(wave, 1, bench, settings, {});
        if (!figure.value) {
            ADD_FAILURE() << figure.unresolved;
            return result;
        }
        result.held += holds(figure, truth) ? 1.0 / draws : 0.0;
        result.mean_db += 10.0 * std::log10(*figure.value / truth) / draws;
        result.mean_u_db += 4.342944819 * combined(figure.budget) / *figure.value / draws;
    }
    record("held", result.held);
    record("mean_db", result.mean_db);
    record("mean_u_db", result.mean_u_db);
    return result;
}

TEST(FigureCoverage, PowerFromARampHoldsItsUncertaintyInNoise) {
    const Ramps found = ramps(0.01);
    EXPECT_GE(found.held, 0.93);
    // Less than a third of its own uncertainty off on the average.
    EXPECT_LT(std::abs(found.mean_db), 0.33 * found.mean_u_db);
}

TEST(FigureCoverage, PowerFromARampHoldsItsUncertaintyInLittleNoise) {
    const Ramps found = ramps(0.0003);
    EXPECT_GE(found.held, 0.93);
    EXPECT_LT(std::abs(found.mean_db), 0.33 * found.mean_u_db);
}

TEST(FigureCoverage, ClippingSymmetryHoldsItsUncertainty) {
    std::mt19937_64 engine{2121};
    std::uniform_real_distribution<double> unit{-1.0, 1.0};
    int held = 0;
    for (int draw = 0; draw < draws; ++draw) {
        const double up = 19.0 + unit(engine);
        const double down = 19.0 + unit(engine);
        const double hertz = 997.0 * (1.0 + 200e-6 * unit(engine));
        const auto wave = test::clipped(21.0, up, down, 0.05, engine(), hertz, 0.1);
        ToneFitSettings settings;
        settings.nominal = 997_Hz;
        const auto fit = fit_tone(wave, settings);
        ASSERT_TRUE(fit.has_value());
        const BenchShare bench = shop_bench();
        held += holds(clipping_symmetry({wave, *fit, 1, bench, {}}), up / down) ? 1 : 0;
    }
    record("held", static_cast<double>(held) / draws);
    // k = 2 of 16 groups is 93.6 %: t with 15 degrees of freedom.
    EXPECT_GE(held, 0.92 * draws);
}

TEST(FigureCoverage, OutputImpedanceHoldsItsUncertaintyDownToNothing) {
    std::mt19937_64 engine{88};
    std::normal_distribution<double> normal{0.0, 1.0};
    BenchShare loaded = shop_bench();
    loaded.load_heat_u_k1 = 0.0;
    BenchShare open = loaded;
    open.load.reset();
    for (const double truth : {0.8, 0.08, 0.02, 0.005}) {
        int held = 0;
        for (int draw = 0; draw < draws; ++draw) {
            const double load = 8.0 * (1.0 + 0.01 * normal(engine));
            const double volts = 2.0 * load / (load + truth);
            const ToneFit heavy = fit_of(volts * (1.0 + 2e-4 * normal(engine)), 2e-4);
            const ToneFit light =
                fit_of(2.0 * (1.0 + 2e-4 * normal(engine) + 5e-4 * normal(engine)), 2e-4);
            const ToneRecord first{{}, heavy, 1, loaded, {}};
            const ToneRecord second{{}, light, 1, open, {}};
            held += holds(output_impedance({first, second, 5e-4, "", {}}), truth) ? 1 : 0;
        }
        record(("held_at_" + std::to_string(truth)).c_str(), static_cast<double>(held) / draws);
        // A value holds in 95.4 %, a bound in 97.7 %.
        EXPECT_GE(held, 0.93 * draws) << truth;
    }
}

}  // namespace
}  // namespace afterload::analysis
