#include "instruments/class_ab.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

namespace afterload::instruments {
namespace {

/// Odd harmonics up to the 15th and 80 kHz of what the pair loses at `watts` into 8 ohm, each
/// divided by 1 + |A| at its frequency: loop gain A flat to 1 kHz, falling 20 dB a decade above.
double thd_percent(const OutputPair& pair, double watts, double hertz, double loop_gain) {
    const double peak = std::sqrt(2.0 * watts * 8.0);
    constexpr int points = 1 << 14;
    double square = 0.0;
    for (int k = 3; k <= 15 && k * hertz <= 80e3; k += 2) {
        std::complex<double> sum = 0.0;
        for (int n = 0; n < points; ++n) {
            const double angle = 2.0 * std::numbers::pi * n / points;
            const double amperes = peak / 8.0 * std::cos(angle);
            const double lost = std::copysign(crossover_volts(pair, std::abs(amperes)), amperes);
            sum += lost * std::polar(1.0, -k * angle);
        }
        const double gain_there = loop_gain / std::max(1.0, k * hertz / 1000.0);
        const double reduced = 2.0 * std::abs(sum) / points / (1.0 + gain_there);
        square += reduced * reduced;
    }
    return 100.0 * std::sqrt(square) / peak;
}

OutputPair with_bias(double emitter_volts) {
    OutputPair pair;
    pair.quiescent_amperes = emitter_volts / pair.emitter_ohms;
    return pair;
}

TEST(ClassAb, LossAtZeroCurrentIsZero) {
    EXPECT_NEAR(crossover_volts(with_bias(0.012), 0.0), 0.0, 1e-15);
}

// At small currents δ = I·(Re + Vt/Iq)/2, so that beyond Re·I it is I·(Vt/Iq − Re)/2: exact to
// first order, from the implicit equation.
TEST(ClassAb, SlopeAtZeroIsHalfOfResistorAndJunction) {
    for (const double bias : {0.0002, 0.003, 0.012, 0.026, 0.05}) {
        const OutputPair pair = with_bias(bias);
        const double amperes = 1e-4 * pair.quiescent_amperes;
        const double slope =
            0.5 * (pair.thermal_volts / pair.quiescent_amperes - pair.emitter_ohms);
        EXPECT_NEAR(crossover_volts(pair, amperes), slope * amperes,
                    1e-6 * pair.emitter_ohms * amperes)
            << bias;
    }
}

TEST(ClassAb, CurrentsObeyTheJunctionLaw) {
    // With Re = 0 the pair is asinh: ab = 1 and a − b = u give δ = Vt·asinh(u/2).
    OutputPair pair;
    pair.emitter_ohms = 1e-12;
    for (const double u : {0.1, 1.0, 10.0, 1000.0}) {
        EXPECT_NEAR(crossover_volts(pair, u * pair.quiescent_amperes),
                    pair.thermal_volts * std::asinh(0.5 * u), 1e-9)
            << u;
    }
}

// Figures of the trade (computed from this same law by another program; 0.33 ohm, 45 dB of loop
// gain at 1 kHz). How many harmonics it counted is not stated: the quarter covers 9 to 20 of them.
TEST(ClassAb, StarvedBiasGivesTheDistortionOfTheTradesTable) {
    struct Row {
        double bias, watts, at_1_khz, at_10_khz;
    };
    for (const Row& row : {Row{0.003, 0.05, 0.019, 0.16}, Row{0.003, 1.0, 0.016, 0.12},
                           Row{0.003, 20.0, 0.0076, 0.05}, Row{0.0002, 0.05, 0.12, 0.84},
                           Row{0.0002, 1.0, 0.048, 0.29}, Row{0.0002, 20.0, 0.016, 0.09}}) {
        EXPECT_NEAR(thd_percent(with_bias(row.bias), row.watts, 1000.0, 178.0), row.at_1_khz,
                    0.25 * row.at_1_khz)
            << row.bias << " V, " << row.watts << " W";
        EXPECT_NEAR(thd_percent(with_bias(row.bias), row.watts, 10e3, 178.0), row.at_10_khz,
                    0.25 * row.at_10_khz)
            << row.bias << " V, " << row.watts << " W";
    }
}

TEST(ClassAb, OptimumBiasLeavesAThousandthOfAPercent) {
    for (const double watts : {0.05, 1.0, 20.0}) {
        EXPECT_LT(thd_percent(with_bias(0.026), watts, 1000.0, 178.0), 0.0025) << watts;
    }
}

TEST(ClassAb, TableFollowsTheLawAndIsOdd) {
    const OutputPair pair = with_bias(0.003);
    const OddTable table = crossover_table(pair, 1.0);
    for (double amperes = 1e-5; amperes < 20.0; amperes *= 1.37) {
        const double truth = crossover_volts(pair, amperes);
        EXPECT_NEAR(table(amperes), truth, 1e-4 * pair.thermal_volts) << amperes;
        EXPECT_EQ(table(-amperes), -table(amperes));
    }
}

}  // namespace
}  // namespace afterload::instruments
