#include "analysis/harmonic.hpp"

#include "analysis/level.hpp"
#include "tests/analysis/check_values.hpp"
#include "tests/analysis/published.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <string>

namespace afterload::analysis {
namespace {

using namespace literals;
using std::numbers::pi;
using test::check_values;
using test::decibels;
using test::Synthesis;

ToneFit fitted(WaveformView record, double nominal) {
    ToneFitSettings settings;
    settings.nominal = Hertz{nominal};
    const auto fit = fit_tone(record, settings);
    if (!fit) {
        ADD_FAILURE() << fit.error().what;
        return {};
    }
    return *fit;
}

double thd(const ToneFit& fit, int highest) {
    const auto distortion = total_harmonic_distortion(fit, {highest, 0.49 * fit.rate.frequency()});
    if (!distortion) {
        ADD_FAILURE() << distortion.error().what;
        return 0.0;
    }
    return distortion->ratio.value;
}

// Each row's harmonics H2 to H10 with phases of no meaning: their sum is the table's.
TEST(Harmonic, EveryShapeOfTheTableReadsItsThdToTheTenth) {
    int rows = 0;
    for (const auto& row : check_values("closed-form-thd.csv")) {
        const double f = 997.3;
        Synthesis record{48000.0, 0.2};
        const double h1 = row.number("h1");
        record.line(f, h1, 0.4);
        for (int n = 2; n <= 10; ++n) {
            record.line(n * f, h1 * row.number("r" + std::to_string(n)), 0.7 * n * n);
        }
        EXPECT_NEAR(decibels(thd(fitted(record, 997.0), 10)), row.number("THD_F_H2_H10_dB"), 0.001)
            << row.text("shape") << " " << row.text("value");
        ++rows;
    }
    EXPECT_GT(rows, 40);
}

// Fourier series of the shapes themselves, summed up to Nyquist so that nothing folds back.
double clipped(int n, double c) {
    const double alpha = std::asin(c);
    if (n == 1) {
        return 2.0 / pi * (alpha + c * std::sqrt(1.0 - c * c));
    }
    return n % 2 == 0
               ? 0.0
               : 2.0 / (n * pi) *
                     (std::sin((n - 1) * alpha) / (n - 1) + std::sin((n + 1) * alpha) / (n + 1));
}
double dead_zone(int n, double d) {
    return n == 1 ? 1.0 - clipped(1, d) : -clipped(n, d);
}
double square(int n, double) {
    return n % 2 == 0 ? 0.0 : 4.0 / (pi * n);
}
double triangle(int n, double) {
    return n % 2 == 0 ? 0.0 : (n % 4 == 1 ? 1.0 : -1.0) * 8.0 / (pi * pi * n * n);
}

void expect_series(const std::string& shape, double (*harmonic)(int, double)) {
    int rows = 0;
    for (const auto& row : check_values("closed-form-thd.csv")) {
        if (row.text("shape") != shape) {
            continue;
        }
        const double parameter = row.text("value").empty() ? 0.0 : row.number("value");
        // The formula is the table's own.
        EXPECT_NEAR(harmonic(1, parameter), row.number("h1"), 1e-9);
        EXPECT_NEAR(harmonic(3, parameter) / harmonic(1, parameter), row.number("r3"), 1e-9);
        const double f = 996.7;
        Synthesis record{192000.0, 0.1};
        for (int n = 1; n * f < 96000.0; ++n) {
            // Sines: the series of the shape about its zero crossing.
            record.line(n * f, harmonic(n, parameter), -0.5 * pi);
        }
        test::expect_published(
            "Fourier series, closed form",
            shape + (parameter == 0.0 ? "" : " " + row.text("value")) + ", THD of H2 to H10, dB",
            decibels(thd(fitted(record, 997.0), 10)), row.number("THD_F_H2_H10_dB"), 0.01);
        ++rows;
    }
    EXPECT_GT(rows, 0) << shape;
}

TEST(Harmonic, ClippedSineReadsItsClosedForm) {
    expect_series("hard-clipped sine symmetric", clipped);
}
TEST(Harmonic, CrossoverDeadZoneReadsItsClosedForm) {
    expect_series("dead-zone (crossover) sine", dead_zone);
}
TEST(Harmonic, SquareReadsItsClosedForm) {
    expect_series("square", square);
}
TEST(Harmonic, TriangleReadsItsClosedForm) {
    expect_series("triangle", triangle);
}

// y = x + a2 x² + a3 x³ on a cosine has no harmonic above the third: sampling folds nothing.
TEST(Harmonic, PolynomialReadsItsClosedForm) {
    int rows = 0;
    for (const auto& row : check_values("closed-form-thd.csv")) {
        if (row.text("shape") != "polynomial x+a2x^2+a3x^3 on cosine") {
            continue;
        }
        double amplitude = 0.0;
        double a2 = 0.0;
        double a3 = 0.0;
        ASSERT_EQ(std::sscanf(row.text("parameter").c_str(), "A=%lf", &amplitude), 1);
        ASSERT_EQ(std::sscanf(row.text("value").c_str(), "a2=%lf a3=%lf", &a2, &a3), 2);
        Synthesis record{48000.0, 0.1};
        record.line(997.3, amplitude, 0.9);
        for (double& x : record.volts()) {
            x = x + a2 * x * x + a3 * x * x * x;
        }
        test::expect_published(
            "polynomial, closed form",
            "x + a2 x^2 + a3 x^3, " + row.text("parameter") + " " + row.text("value") + ", THD, dB",
            decibels(thd(fitted(record, 997.0), 20)), row.number("THD_F_dB"), 0.01);
        ++rows;
    }
    EXPECT_GT(rows, 3);
}

TEST(Harmonic, SecondAtMinusEightyReadsMinusEightyBesideADcOffset) {
    Synthesis record{48000.0, 0.1};
    record.line(997.3, 0.5, 0.4).line(1994.6, 0.5e-4, 2.0).dc(-0.4);
    EXPECT_NEAR(decibels(thd(fitted(record, 997.0), 9)), -80.0, 0.001);
}

TEST(Harmonic, MinusHundredReadsMinusHundredWithoutNoise) {
    for (const double seconds : {0.2, 1.0}) {
        for (const double f : {19.7, 997.0, 6667.0}) {
            Synthesis record{48000.0, seconds};
            record.line(f * 1.0002, 0.7, 1.1);
            record.line(2.0 * f * 1.0002, 0.7e-5, 0.3).line(3.0 * f * 1.0002, 0.7e-5, 2.2);
            EXPECT_NEAR(decibels(thd(fitted(record, f), 9) / std::sqrt(2.0)), -100.0, 0.001) << f;
        }
    }
}

TEST(Harmonic, PureToneReadsNoMoreThanRoundingLeaves) {
    Synthesis record{48000.0, 0.2};
    record.line(997.3, 1.0, 0.2);
    EXPECT_LT(decibels(thd(fitted(record, 997.0), 20)), -240.0);
}

TEST(Harmonic, TableGivesRatioAndPhaseReTheFundamental) {
    Synthesis record{48000.0, 0.2};
    const double first = 0.6;
    record.line(997.3, 1.0, first);
    record.line(2.0 * 997.3, 1e-2, 2.0 * first + 0.5).line(3.0 * 997.3, 2e-3, 3.0 * first + pi);
    const auto table = harmonic_table(fitted(record, 997.0), {20, 21600_Hz});
    ASSERT_GE(table.size(), 2U);
    EXPECT_EQ(table[0].order, 2);
    EXPECT_NEAR(table[0].ratio, 1e-2, 1e-9);
    EXPECT_NEAR(table[0].phase_degrees, 0.5 * 180.0 / pi, 1e-4);
    EXPECT_NEAR(std::abs(table[1].phase_degrees), 180.0, 1e-3);
    EXPECT_GT(table[1].phase_degrees, -180.0);
    EXPECT_EQ(table.back().order, 20);
}

TEST(Harmonic, OnlyThoseInsideTheBandAndTheOrderCount) {
    Synthesis record{48000.0, 0.2};
    record.line(997.3, 1.0, 0.0);
    for (int k = 2; k <= 20; ++k) {
        record.line(997.3 * k, 1e-3, k);
    }
    const ToneFit fit = fitted(record, 997.0);
    const auto five = total_harmonic_distortion(fit, {5, 21600_Hz});
    ASSERT_TRUE(five);
    EXPECT_EQ(five->highest_counted, 5);
    EXPECT_NEAR(five->ratio.value, 1e-3 * std::sqrt(4.0), 1e-8);
    const auto band = total_harmonic_distortion(fit, {20, 10_kHz});
    ASSERT_TRUE(band);
    EXPECT_EQ(band->highest_counted, 10);
    EXPECT_NEAR(band->ratio.value, 1e-3 * std::sqrt(9.0), 1e-8);
    EXPECT_DOUBLE_EQ(band->band.high.in<Hertz>(), 10000.0);
}

TEST(Harmonic, SecondAndThirdOutsideTheBandNameTheRateNeeded) {
    Synthesis record{48000.0, 0.2};
    record.line(10000.0, 1.0, 0.0);
    const ToneFit fit = fitted(record, 10000.0);
    const auto distortion = total_harmonic_distortion(fit, {20, default_upper_edge(fit.rate)});
    ASSERT_FALSE(distortion);
    EXPECT_EQ(distortion.error().kind, FigureFailure::Kind::out_of_range);
    EXPECT_NE(distortion.error().what.find("66666.7"), std::string::npos)
        << distortion.error().what;
}

TEST(Harmonic, UpperEdgeIsPointFourFiveOfTheRate) {
    EXPECT_DOUBLE_EQ(default_upper_edge(SampleRate{48000.0}).in<Hertz>(), 21600.0);
}

TEST(Harmonic, NoiseAloneReadsLessThan) {
    int bounds = 0;
    for (std::uint64_t seed = 1; seed <= 50; ++seed) {
        Synthesis record{48000.0, 0.1};
        record.line(997.3, 1.0, 0.3).noise(1e-4, seed);
        const auto distortion = total_harmonic_distortion(fitted(record, 997.0), {10, 21600_Hz});
        ASSERT_TRUE(distortion);
        if (distortion->ratio.bound) {
            ++bounds;
            EXPECT_EQ(distortion->ratio.bound->side, Bound::Side::at_most);
            // √(noise 4gσ²/N over nine harmonics) is 8.8e-6: a bound of that size and not of
            // another.
            EXPECT_GT(distortion->ratio.bound->value, 4e-6);
            EXPECT_LT(distortion->ratio.bound->value, 2.5e-5);
        }
    }
    // Noise alone passes twice its own scatter in some 5 % of draws.
    EXPECT_GE(bounds, 43);
}

TEST(Harmonic, ScalingTheRecordLeavesTheRatioAlone) {
    Synthesis record{48000.0, 0.1};
    record.line(997.3, 1.0, 0.3).line(1994.6, 1e-3, 0.0).noise(1e-4, 5);
    const double before = thd(fitted(record, 997.0), 9);
    for (double& x : record.volts()) {
        x *= 0.125;
    }
    EXPECT_DOUBLE_EQ(thd(fitted(record, 997.0), 9), before);
}

}  // namespace
}  // namespace afterload::analysis
