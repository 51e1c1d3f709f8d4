#include "analysis/tone.hpp"

#include "tests/analysis/synthesis.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>
#include <string>

namespace afterload::analysis {
namespace {

using namespace literals;
using test::decibels;
using test::noise_below;
using test::Synthesis;

ToneFitSettings near(double nominal) {
    ToneFitSettings settings;
    settings.nominal = Hertz{nominal};
    return settings;
}

ToneFitSettings near_with_mains(double nominal) {
    ToneFitSettings settings = near(nominal);
    settings.mains = 50_Hz;
    return settings;
}

// Without noise the fit is exact but for the end of its search (1e-5 rad over the record, whose
// square is what is left) and for rounding: a millionth of a decibel, a thousandth of what is
// needed.
void expect_found(double rate, double seconds, double nominal, double ppm,
                  std::mt19937_64& engine) {
    std::uniform_real_distribution<double> phase{-3.1, 3.1};
    const double frequency = nominal * (1.0 + 1e-6 * ppm);
    const double start = phase(engine);
    Synthesis record{rate, seconds};
    record.line(frequency, 0.7, start).dc(0.02);
    const auto fit = fit_tone(record, near(nominal));
    ASSERT_TRUE(fit) << fit.error().what << " " << seconds << " s";
    EXPECT_NEAR(decibels(fit->fundamental.amplitude / 0.7), 0.0, 1e-6)
        << nominal << " Hz " << ppm << " ppm " << seconds << " s";
    EXPECT_NEAR(fit->fundamental.frequency.in<Hertz>(), frequency, 1e-6 / seconds);
    const double samples = std::round(rate * seconds);
    const double middle = start + test::two_pi * frequency * 0.5 * (samples - 1.0) / rate;
    EXPECT_NEAR(std::remainder(fit->fundamental.phase - middle, test::two_pi), 0.0, 1e-6);
}

TEST(Tone, IsFoundAtAnyClockFrequencyAndLength) {
    std::mt19937_64 engine{1};
    for (const double rate : {48000.0, 192000.0}) {
        for (const double seconds : {0.2, 1.0}) {
            for (const double part : {20.0, 100.0, 997.0, 6667.0, 0.45 * rate}) {
                for (const double ppm : {0.0, 50.0, -200.0, 1000.0}) {
                    expect_found(rate, seconds, part, ppm, engine);
                }
            }
        }
    }
}

TEST(Tone, IsFoundOverTenSecondsWhereABlockPhaseWouldHaveWrapped) {
    std::mt19937_64 engine{2};
    for (const double nominal : {20.0, 19000.0, 21600.0}) {
        for (const double ppm : {0.0, 200.0, -1000.0}) {
            expect_found(48000.0, 10.0, nominal, ppm, engine);
        }
    }
}

TEST(Tone, IsFoundTwoBinsFromItsNominalFrequency) {
    for (const double offset : {-1.9, -1.0, 0.6, 1.4, 1.9}) {
        for (const double seconds : {0.02, 0.1}) {
            Synthesis record{48000.0, seconds};
            record.line(997.0 + offset / seconds, 1.0, 0.4);
            const auto fit = fit_tone(record, near(997.0));
            ASSERT_TRUE(fit) << offset;
            EXPECT_NEAR(fit->fundamental.amplitude, 1.0, 1e-7);
        }
    }
}

TEST(Tone, IsFoundInTwoPeriods) {
    for (const double phase : {0.0, 0.7, 1.6, 2.9}) {
        Synthesis record{48000.0, 2.05 / 20.0};
        record.line(20.0, 1.0, phase);
        ToneFitSettings settings = near(20.0);
        settings.highest_harmonic = 3;
        const auto fit = fit_tone(record, settings);
        ASSERT_TRUE(fit);
        EXPECT_NEAR(decibels(fit->fundamental.amplitude), 0.0, 1e-4);
    }
}

TEST(Tone, OfAnOddNumberOfSamplesIsTheSame) {
    for (const double samples : {4801.0, 4799.0, 4787.0}) {
        Synthesis record{48000.0, samples / 48000.0};
        record.line(1000.3, 0.5, 1.0).line(2000.6, 5e-4, 0.2);
        const auto fit = fit_tone(record, near(1000.0));
        ASSERT_TRUE(fit);
        EXPECT_NEAR(fit->fundamental.amplitude, 0.5, 1e-10);
        EXPECT_NEAR(fit->harmonics.front().amplitude, 5e-4, 1e-10);
    }
}

// Hum of -60, -70 and -80 dB on a clock of its own, a DC, a ramp, and a -50 dB line at 90 kHz that
// nothing models: harmonics at -120 dB stay right to 0.01 dB.
TEST(Tone, HarmonicsStandBesideHumDcDriftAndUltrasonicLines) {
    for (const double seconds : {0.1, 1.0}) {
        Synthesis record{192000.0, seconds};
        const double f = 997.0 * (1.0 + 50e-6);
        record.line(f, 0.7, 1.0).line(2.0 * f, 0.7e-6, 2.0).line(3.0 * f, 0.7e-6, -1.0);
        record.line(50.013, 0.7e-3, 0.3).line(100.026, 0.22e-3, 1.3).line(150.039, 0.07e-3, 2.3);
        record.line(90000.0, 2.2e-3, 0.1).dc(0.05).ramp(1e-3);
        const auto fit = fit_tone(record, near_with_mains(997.0));
        ASSERT_TRUE(fit);
        EXPECT_NEAR(decibels(fit->fundamental.amplitude / 0.7), 0.0, 1e-5);
        EXPECT_NEAR(decibels(fit->harmonics[0].amplitude / 0.7e-6), 0.0, 0.01) << seconds;
        EXPECT_NEAR(decibels(fit->harmonics[1].amplitude / 0.7e-6), 0.0, 0.01) << seconds;
        ASSERT_FALSE(fit->mains.empty());
        EXPECT_NEAR(decibels(fit->mains[0].amplitude / 0.7e-3), 0.0, 0.02);
    }
}

TEST(Tone, MainsLinesAreFoundHalfAHertzOffOverTenSeconds) {
    for (const double offset : {-0.45, -0.2, 0.013, 0.2, 0.45}) {
        Synthesis record{48000.0, 10.0};
        const double mains = 50.0 + offset;
        record.line(997.1, 0.7, 1.0);
        record.line(mains, 1e-3, 0.3).line(2.0 * mains, 2e-3, 1.3).line(3.0 * mains, 1e-4, 0.3);
        const auto fit = fit_tone(record, near_with_mains(997.0));
        ASSERT_TRUE(fit);
        ASSERT_EQ(fit->mains.size(), 10U);
        EXPECT_NEAR(fit->mains[0].frequency.in<Hertz>(), mains, 1e-6);
        EXPECT_NEAR(fit->mains[0].amplitude, 1e-3, 1e-8);
        EXPECT_NEAR(fit->mains[1].amplitude, 2e-3, 1e-8);
        EXPECT_NEAR(fit->mains[2].amplitude, 1e-4, 1e-8);
    }
}

TEST(Tone, MainsThatAreNotThereDoNotDisturb) {
    Synthesis record{48000.0, 0.5};
    record.line(997.1, 0.7, 1.0).line(3.0 * 997.1, 0.7e-4, 1.0).noise(1e-5, 3);
    const auto with = fit_tone(record, near_with_mains(997.0));
    const auto without = fit_tone(record, near(997.0));
    ASSERT_TRUE(with && without);
    EXPECT_NEAR(with->fundamental.amplitude, without->fundamental.amplitude,
                0.2 * with->fundamental.sigma);
    EXPECT_NEAR(with->harmonics[1].amplitude, without->harmonics[1].amplitude,
                0.2 * with->harmonics[1].sigma);
    for (const FittedLine& line : with->mains) {
        EXPECT_LT(line.amplitude, 5.0 * line.sigma);
        EXPECT_NEAR(line.frequency.in<Hertz>() / line.order, 50.0, 0.51);
    }
}

TEST(Tone, MainsLinesTooCloseToItsOwnAreLeftOutAndListed) {
    Synthesis record{48000.0, 0.2};
    record.line(19.7, 0.7, 1.0).line(50.0, 1e-3, 0.0);
    const auto fit = fit_tone(record, near_with_mains(19.7));
    ASSERT_TRUE(fit);
    // 1.2/T is 6 Hz. Nor is the mains clock known better than the record tells: a line that stands
    // just clear of it may go either way.
    for (int m = 1; m <= 10; ++m) {
        double nearest = 1e9;
        for (int k = 1; k <= 20; ++k) {
            nearest = std::min(nearest, std::abs(50.0 * m - 19.7 * k));
        }
        const auto listed = std::find(fit->mains_left_out.begin(), fit->mains_left_out.end(), m);
        const bool left_out = listed != fit->mains_left_out.end();
        if (nearest < 5.5 || nearest > 7.0) {
            EXPECT_EQ(left_out, nearest < 5.5) << m;
        }
        const bool fitted = std::any_of(fit->mains.begin(), fit->mains.end(),
                                        [m](const FittedLine& line) { return line.order == m; });
        EXPECT_NE(left_out, fitted) << m;
    }
    EXPECT_EQ(fit->mains_left_out.front(), 2);
}

TEST(Tone, OnTheMainsFrequencyLeavesAllMainsLinesOut) {
    Synthesis record{48000.0, 1.0};
    record.line(50.0, 0.7, 1.0);
    const auto fit = fit_tone(record, near_with_mains(50.0));
    ASSERT_TRUE(fit);
    EXPECT_TRUE(fit->mains.empty());
    EXPECT_EQ(fit->mains_left_out.size(), 10U);
    EXPECT_NEAR(fit->fundamental.amplitude, 0.7, 1e-9);
}

// The transient of a coupling capacitor: 2 Hz corner, a tenth of the tone.
TEST(Tone, UnsettledDcIsTakenUpByAPolynomial) {
    Synthesis record{48000.0, 0.2};
    record.line(40.0, 1.0, 0.3).line(80.0, 1e-4, 0.4);
    for (std::size_t n = 0; n < record.volts().size(); ++n) {
        record.volts()[n] += 0.1 * std::exp(-static_cast<double>(n) / 48000.0 / 0.080);
    }
    ToneFitSettings plain = near(40.0);
    plain.highest_harmonic = 9;
    ToneFitSettings curved = plain;
    curved.dc_degree = 4;
    const auto wrong = fit_tone(record, plain);
    const auto right = fit_tone(record, curved);
    ASSERT_TRUE(wrong && right);
    EXPECT_GT(std::abs(decibels(wrong->harmonics[0].amplitude / 1e-4)), 3.0);
    EXPECT_NEAR(decibels(right->harmonics[0].amplitude / 1e-4), 0.0, 0.25);
    EXPECT_EQ(right->dc.size(), 5U);
}

TEST(Tone, HarmonicsAbovePointFourNineOfTheRateAreLeftOut) {
    Synthesis record{48000.0, 0.2};
    record.line(6667.0, 0.7, 1.0);
    const auto fit = fit_tone(record, near(6667.0));
    ASSERT_TRUE(fit);
    ASSERT_EQ(fit->harmonics.size(), 2U);  // 13 334 and 20 001 Hz; 26 668 Hz is above 23 520 Hz
    EXPECT_EQ(fit->harmonics.back().order, 3);
}

// Sigma comes from the noise around the line: measured here against the scatter of 400 draws, which
// is itself known to 1/√800 = 3.5 %; sigma of a draw scatters by a tenth and is averaged.
TEST(Tone, SigmaIsTheScatterOfTheAmplitude) {
    const int draws = 400;
    double squares = 0.0;
    double second = 0.0;
    double sigma = 0.0;
    double sigma_second = 0.0;
    for (int draw = 0; draw < draws; ++draw) {
        Synthesis record{48000.0, 0.05};
        record.line(997.3, 1.0, 0.1 * draw).line(1994.6, 1e-2, 0.3 * draw);
        record.noise(1e-3, 100 + static_cast<std::uint64_t>(draw));
        ToneFitSettings settings = near(997.0);
        settings.highest_harmonic = 3;
        const auto fit = fit_tone(record, settings);
        ASSERT_TRUE(fit);
        squares += std::pow(fit->fundamental.amplitude - 1.0, 2);
        second += std::pow(fit->harmonics[0].amplitude - 1e-2, 2);
        sigma += std::pow(fit->fundamental.sigma, 2);
        sigma_second += std::pow(fit->harmonics[0].sigma, 2);
    }
    EXPECT_NEAR(std::sqrt(squares / sigma), 1.0, 0.12);
    EXPECT_NEAR(std::sqrt(second / sigma_second), 1.0, 0.12);
}

// A 192 kHz card is mostly ultrasonic noise: +36 dB above 24 kHz must not count for a harmonic at 2
// kHz.
TEST(Tone, SigmaFollowsTheNoiseAroundTheLineAndNotTheTotal) {
    Synthesis record{192000.0, 0.5};
    record.line(997.3, 1.0, 0.4).noise(1e-5, 7);
    std::vector<double> high(record.volts().size());
    std::mt19937_64 engine{8};
    std::normal_distribution<double> normal{0.0, 1e-3};
    double before = 0.0;
    double before_that = 0.0;
    // (1 - z⁻¹)² falls by 12 dB an octave towards low frequencies: at 2 kHz it is 59 dB down.
    for (double& x : record.volts()) {
        const double now = normal(engine);
        x += now - 2.0 * before + before_that;
        before_that = before;
        before = now;
    }
    const auto fit = fit_tone(record, near(997.0));
    ASSERT_TRUE(fit);
    const double samples = static_cast<double>(record.volts().size());
    const double shaped = 4.0 * std::pow(std::sin(std::numbers::pi * 1994.6 / 192000.0), 2) * 1e-3;
    const double expected = std::hypot(1e-5, shaped) * std::sqrt(2.0 * fit->noise_gain / samples);
    EXPECT_NEAR(fit->harmonics[0].sigma / expected, 1.0, 0.25);
    EXPECT_GT(fit->residual_rms * std::sqrt(2.0 / samples), 50.0 * fit->harmonics[0].sigma);
}

TEST(Tone, ResidualIsWhatTheModelLeaves) {
    Synthesis record{48000.0, 0.5};
    record.line(997.3, 1.0, 0.4).line(50.01, 1e-3, 0.3).dc(0.1).noise(1e-4, 9);
    const auto fit = fit_tone(record, near_with_mains(997.0));
    ASSERT_TRUE(fit);
    EXPECT_NEAR(fit->residual_rms, 1e-4, 2e-6);
    double squares = 0.0;
    for (const double x : without_tone(record, *fit).volts) {
        squares += x * x;
    }
    EXPECT_NEAR(std::sqrt(squares / static_cast<double>(record.volts().size())), 1e-4, 2e-6);
}

TEST(Tone, NoiseAndSilenceAreNoTone) {
    for (std::uint64_t seed = 1; seed <= 40; ++seed) {
        Synthesis record{48000.0, 0.2};
        const auto fit = fit_tone(record.noise(0.1, seed), near(997.0));
        ASSERT_FALSE(fit) << seed;
        EXPECT_EQ(fit.error().kind, FigureFailure::Kind::no_tone);
    }
    Synthesis silence{48000.0, 0.2};
    const auto fit = fit_tone(silence, near(997.0));
    ASSERT_FALSE(fit);
    EXPECT_EQ(fit.error().kind, FigureFailure::Kind::no_tone);
}

TEST(Tone, AtAnotherFrequencyIsNoTone) {
    Synthesis record{48000.0, 1.0};
    record.line(1000.0, 1.0, 0.3).noise(1e-5, 4);
    for (const double asked : {996.0, 990.0, 5000.3, 300.0}) {
        const auto fit = fit_tone(record, near(asked));
        ASSERT_FALSE(fit) << asked;
        EXPECT_EQ(fit.error().kind, FigureFailure::Kind::no_tone) << asked;
    }
}

TEST(Tone, RefusesWhatItCannotFitAndSaysWhy) {
    Synthesis short_record{48000.0, 0.05};
    short_record.line(20.0, 1.0, 0.0);
    const auto one_period = fit_tone(short_record, near(20.0));
    ASSERT_FALSE(one_period);
    EXPECT_EQ(one_period.error().kind, FigureFailure::Kind::record_too_short);
    EXPECT_NE(one_period.error().what.find("0.1 s"), std::string::npos) << one_period.error().what;

    Synthesis record{48000.0, 0.2};
    record.line(1000.0, 1.0, 0.0);
    for (const double nominal : {0.0, -5.0, 23900.0, std::numeric_limits<double>::quiet_NaN()}) {
        const auto fit = fit_tone(record, near(nominal));
        ASSERT_FALSE(fit);
        EXPECT_EQ(fit.error().kind, FigureFailure::Kind::out_of_range);
    }
    record.volts()[100] = std::numeric_limits<double>::quiet_NaN();
    EXPECT_FALSE(fit_tone(record, near(1000.0)));
}

TEST(Tone, ScalingTheRecordScalesTheAmplitudeAndNothingElse) {
    Synthesis record{48000.0, 0.2};
    record.line(997.3, 1.0, 0.4).line(1994.6, 1e-3, 0.2).noise(1e-4, 12);
    const auto fit = fit_tone(record, near(997.0));
    for (double& x : record.volts()) {
        x *= 1024.0;  // a power of two: rounding does not change
    }
    const auto scaled = fit_tone(record, near(997.0));
    ASSERT_TRUE(fit && scaled);
    EXPECT_DOUBLE_EQ(scaled->fundamental.amplitude, 1024.0 * fit->fundamental.amplitude);
    EXPECT_DOUBLE_EQ(scaled->fundamental.frequency.in<Hertz>(),
                     fit->fundamental.frequency.in<Hertz>());
    EXPECT_DOUBLE_EQ(scaled->harmonics[0].sigma, 1024.0 * fit->harmonics[0].sigma);
}

}  // namespace
}  // namespace afterload::analysis
