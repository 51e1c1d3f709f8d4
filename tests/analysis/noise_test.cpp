#include "analysis/noise.hpp"

#include "analysis/quiet_record.hpp"
#include "tests/analysis/published.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

namespace afterload::analysis {
namespace {

using namespace literals;
using test::decibels;
using test::Synthesis;

ToneFit fitted(WaveformView record, double nominal) {
    ToneFitSettings settings;
    settings.nominal = Hertz{nominal};
    settings.mains = 50_Hz;
    const auto fit = fit_tone(record, settings);
    if (!fit) {
        ADD_FAILURE() << fit.error().what;
        return {};
    }
    return *fit;
}

// White noise of 1 V over 24 kHz holds √(19980/24000) V from 20 Hz to 20 kHz. A reading of 1 s
// scatters by 1/(2√(BT)) = 0.35 %; the mean of 40 by 0.056 %.
TEST(Noise, WhiteNoiseReadsItsShareOfTheBand) {
    double power = 0.0;
    double stated = 0.0;
    double scatter = 0.0;
    const double expected = std::sqrt(19980.0 / 24000.0);
    const int draws = 40;
    for (int draw = 0; draw < draws; ++draw) {
        Synthesis record{48000.0, 1.0};
        const auto found =
            noise_voltage(record.noise(1.0, 50 + static_cast<std::uint64_t>(draw)), {});
        ASSERT_TRUE(found);
        power += found->value * found->value;
        stated += found->u_k1;
        scatter += std::pow(found->value - expected, 2);
        EXPECT_LT(std::abs(found->value - expected), 5.0 * found->u_k1);
    }
    EXPECT_NEAR(std::sqrt(power / draws) / expected, 1.0, 4.0 * 0.00056);
    // 1/(2√(19980 · 1 s)) = 0.354 %, with 5 % ends 1.9 % more of it and a little for their spread.
    EXPECT_NEAR(stated / draws / expected, 0.00354, 0.0003);
    EXPECT_NEAR(std::sqrt(scatter / draws) / expected, 0.00354, 0.0014);
}

// White noise through ITU-R 468 in 20 Hz … 20 kHz reads 7.3014 dB more than flat, with 0 dB at
// 1 kHz (integrated numerically); the table's own scale has 1 kHz at -0.0167 dB. A reading of one
// second scatters by 0.55 % of itself: its equivalent bandwidth is some 8 kHz.
TEST(Noise, WhiteNoiseThroughItuR468ReadsSevenDecibelsMore) {
    double power = 0.0;
    const int draws = 40;
    for (std::uint64_t seed = 1; seed <= draws; ++seed) {
        Synthesis record{48000.0, 1.0};
        record.noise(1.0, seed);
        power +=
            std::pow(noise_voltage(record, {audio_band(), Weighting::itu_r_468})->value, 2) / draws;
    }
    const double flat = 19980.0 / 24000.0;
    test::expect_published("ITU-R BS.468-4, table 1, integrated",
                           "white noise 20 Hz to 20 kHz, ITU-R 468 rms re flat, dB",
                           10.0 * std::log10(power / flat), 7.3014 - 0.0167,
                           4.0 * 0.048 / std::sqrt(draws));
}

// The mains lines apart from the noise: 3 V of hum beside 1 V of white noise. The noise alone reads
// as if there were no hum, and both together as the root of the sum of their squares.
TEST(Noise, WithoutItsMainsLinesIsTheNoiseAlone) {
    Synthesis record{48000.0, 1.0};
    record.line(50.02, 4.0, 1.0).line(150.06, 1.0, 2.0).noise(1.0, 3);
    Synthesis alone{48000.0, 1.0};
    alone.noise(1.0, 3);
    const QuietRecord quiet{record, 50_Hz};
    const double noise = noise_voltage(alone, {})->value;
    const auto without = quiet.without_mains({});
    ASSERT_TRUE(without);
    // The fit takes the noise at ten lines away as well: ten of twenty thousand bins.
    EXPECT_NEAR(without->value / noise, 1.0, 1e-3);
    EXPECT_NEAR(quiet.noise({})->value, std::hypot(noise, std::sqrt(8.5)), 2.0 * 0.01);
}

// Density of white noise of 1 V over 24 kHz: 1/√24000 V in 1 Hz, at every column, whatever lines
// stand in it.
TEST(Noise, DensityCurveIsThatOfTheNoiseAndOfNoLine) {
    Synthesis record{48000.0, 4.0};
    record.line(50.02, 4.0, 1.0).line(7777.0, 0.3, 2.0).noise(1.0, 3);
    const auto curve = QuietRecord{record, 50_Hz}.density(audio_band(), 30);
    ASSERT_TRUE(curve);
    int within = 0;
    for (std::size_t i = 0; i < curve->value.size(); ++i) {
        const double truth = 1.0 / std::sqrt(24000.0);
        within += std::abs(curve->value[i] - truth) < 2.0 * curve->u_k1[i] ? 1 : 0;
        EXPECT_LT(std::abs(curve->value[i] - truth), 4.5 * curve->u_k1[i])
            << curve->frequency_hz[i];
    }
    EXPECT_GE(within, 26);  // 95 % of 30, less two deviations of that count
}

// A-weighted white noise in 20 Hz … 20 kHz reads 2.0483 dB less (IEC 61672-1:2013 curve
// integrated).
TEST(Noise, AWeightedWhiteNoiseReadsTwoDecibelsLess) {
    double plain = 0.0;
    double weighted = 0.0;
    for (std::uint64_t seed = 1; seed <= 40; ++seed) {
        Synthesis record{48000.0, 1.0};
        record.noise(1.0, seed);
        plain += std::pow(noise_voltage(record, {})->value, 2);
        weighted += std::pow(noise_voltage(record, {audio_band(), Weighting::a})->value, 2);
    }
    // The two share their noise: the difference scatters by less than either, some 0.006 dB.
    test::expect_published("IEC 61672-1:2013, annex E, integrated",
                           "white noise 20 Hz to 20 kHz, A-weighted re flat, dB",
                           10.0 * std::log10(weighted / plain), -2.0483, 0.02);
}

TEST(Noise, AWeightedUncertaintyComesFromFewerBins) {
    Synthesis record{48000.0, 1.0};
    record.noise(1.0, 3);
    const auto found = noise_voltage(record, {audio_band(), Weighting::a});
    ASSERT_TRUE(found);
    // B_e = (∫W)²/∫W² = 13 826 Hz: 1/(2√B_e) = 0.425 %.
    EXPECT_NEAR(found->u_k1 / found->value, 0.00425, 0.0005);
}

TEST(Noise, ALineAloneReadsItsRms) {
    for (const double f : {31.7, 1000.0, 12345.6}) {
        Synthesis record{48000.0, 0.5};
        const auto found = noise_voltage(record.line(f, 1e-3, 0.3), {});
        ASSERT_TRUE(found);
        EXPECT_NEAR(decibels(found->value / (1e-3 / std::numbers::sqrt2)), 0.0, 0.15) << f;
    }
}

// -60 dB of drift beside -100 dB of noise: without the straight line taken off it reads 14 to 24 dB
// more.
TEST(Noise, ARampIsNoNoise) {
    for (const double seconds : {0.1, 1.0}) {
        Synthesis quiet{48000.0, seconds};
        Synthesis drifting{48000.0, seconds};
        quiet.noise(1e-5, 6);
        drifting.noise(1e-5, 6).ramp(1e-3).dc(0.5);
        EXPECT_NEAR(decibels(noise_voltage(drifting, {})->value / noise_voltage(quiet, {})->value),
                    0.0, 0.001);
    }
}

TEST(Noise, UltrasonicNoiseIsNotInTheBand) {
    Synthesis record{192000.0, 0.5};
    record.noise(1e-6, 2).line(30000.0, 0.1, 0.3).line(90000.0, 0.1, 0.4);
    const auto found = noise_voltage(record, {});
    ASSERT_TRUE(found);
    EXPECT_NEAR(decibels(found->value / (1e-6 * std::sqrt(19980.0 / 96000.0))), 0.0, 0.3);
}

TEST(Noise, RefusesABandThatDoesNotFit) {
    Synthesis record{48000.0, 0.09};
    record.noise(1.0, 1);
    const auto early = noise_voltage(record, {});
    ASSERT_FALSE(early);
    EXPECT_EQ(early.error().kind, FigureFailure::Kind::record_too_short);
    Synthesis longer{32000.0, 0.5};
    longer.noise(1.0, 1);
    const auto high = noise_voltage(longer, {});
    ASSERT_FALSE(high);
    EXPECT_EQ(high.error().kind, FigureFailure::Kind::out_of_range);
    const auto empty = noise_voltage(longer, {{1_kHz, 1_kHz}, Weighting::unweighted});
    ASSERT_FALSE(empty);
    EXPECT_EQ(empty.error().kind, FigureFailure::Kind::out_of_range);
}

// Fundamental 1, H2 -60 dB, H3 -70 dB, noise -80 dB in the band: THD+N re the fundamental is
// √(1e-6 + 1e-7 + 1e-8) = 0.105356538 %, derived.
TEST(Noise, ThdPlusNoiseOfTheWorkedMixture) {
    const double in_band = 1e-4 / std::numbers::sqrt2;
    double power = 0.0;
    const int draws = 10;
    for (int draw = 0; draw < draws; ++draw) {
        Synthesis record{48000.0, 1.0};
        record.line(997.03, 1.0, 0.3).line(2.0 * 997.03, 1e-3, 1.0);
        record.line(3.0 * 997.03, std::pow(10.0, -3.5), 2.0).dc(0.2);
        record.noise(in_band * std::sqrt(24000.0 / 19980.0), 20 + static_cast<std::uint64_t>(draw));
        const ToneFit fit = fitted(record, 997.0);
        const auto ratio = thd_plus_noise(record, fit, {});
        ASSERT_TRUE(ratio);
        EXPECT_LT(std::abs(ratio->value - 1.05356538e-3), 5.0 * ratio->u_k1);
        power += ratio->value * ratio->value;
        const auto decibel = sinad(record, fit, {});
        ASSERT_TRUE(decibel);
        EXPECT_NEAR(decibel->value, -decibels(ratio->value), 1e-9);
        EXPECT_NEAR(decibel->u_k1, 8.685889638 * ratio->u_k1 / ratio->value, 1e-9);
    }
    EXPECT_NEAR(std::sqrt(power / draws), 1.05356538e-3, 1e-6);
}

TEST(Noise, ThdPlusNoiseIsThatOfNoiseAlone) {
    // 20 draws of 0.1 s scatter by 0.086 dB each.
    double sum = 0.0;
    for (std::uint64_t seed = 1; seed <= 20; ++seed) {
        Synthesis record{48000.0, 0.1};
        record.line(997.03, 1.0, 0.3).noise(1e-5, seed);
        const auto ratio = thd_plus_noise(record, fitted(record, 997.0), {});
        ASSERT_TRUE(ratio);
        EXPECT_NEAR(ratio->u_k1 / ratio->value, 0.0112, 0.002);  // 1/(2√(19980 · 0.1 s))
        sum += decibels(ratio->value);
    }
    const double expected = decibels(1e-5 * std::numbers::sqrt2 * std::sqrt(19980.0 / 24000.0));
    EXPECT_NEAR(sum / 20.0, expected, 4.0 * 0.1 / std::sqrt(20.0));
}

TEST(Noise, ThdPlusNoiseCountsHumAndLeavesOutWhatIsAboveTheBand) {
    Synthesis record{192000.0, 0.5};
    record.line(9973.0, 1.0, 0.3).line(29919.0, 1e-2, 0.4).line(50.01, 1e-3, 0.4);
    const auto ratio = thd_plus_noise(record, fitted(record, 9973.0), {});
    ASSERT_TRUE(ratio);
    EXPECT_NEAR(decibels(ratio->value), -60.0, 0.1);
}

TEST(Noise, HumLinesAreReadEachAndTogether) {
    for (const double offset : {-0.4, 0.0, 0.03, 0.4}) {
        for (const double seconds : {0.2, 1.0, 5.0}) {
            const double mains = 50.0 + offset;
            Synthesis record{48000.0, seconds};
            record.line(mains, 1e-3, 0.2).line(2.0 * mains, 2e-3, 1.2).line(3.0 * mains, 5e-4, 0.1);
            record.noise(1e-5, 4).dc(0.01);
            const auto found = hum(record, 50_Hz);
            ASSERT_TRUE(found);
            ASSERT_EQ(found->lines.size(), 10U);
            const double root = std::numbers::sqrt2;
            EXPECT_NEAR(found->lines[0].voltage.value, 1e-3 / root,
                        4.0 * found->lines[0].voltage.u_k1);
            EXPECT_NEAR(found->lines[1].voltage.value, 2e-3 / root,
                        4.0 * found->lines[1].voltage.u_k1);
            EXPECT_NEAR(found->lines[1].frequency.in<Hertz>(), 2.0 * mains, 0.005 / seconds);
            EXPECT_NEAR(found->together.value, std::sqrt(1.0 + 4.0 + 0.25) * 1e-3 / root,
                        4.0 * found->together.u_k1);
            EXPECT_FALSE(found->together.bound);
        }
    }
}

TEST(Noise, HumThatIsNotThereIsLessThan) {
    int bounds = 0;
    for (std::uint64_t seed = 1; seed <= 30; ++seed) {
        Synthesis record{48000.0, 0.5};
        const auto found = hum(record.noise(1e-4, seed), 50_Hz);
        ASSERT_TRUE(found);
        bounds += found->together.bound ? 1 : 0;
    }
    // The clock is searched for the most power, so a few draws in a hundred stand out by chance.
    EXPECT_GE(bounds, 24);
}

TEST(Noise, HumNeedsATenthOfASecond) {
    Synthesis record{48000.0, 0.08};
    const auto found = hum(record.noise(1e-4, 1), 50_Hz);
    ASSERT_FALSE(found);
    EXPECT_EQ(found.error().kind, FigureFailure::Kind::record_too_short);
}

TEST(Noise, DensityOfWhiteNoiseIsFlatOnALogarithmicAxis) {
    Synthesis record{48000.0, 4.0};
    record.noise(1.0, 5);
    const auto found = noise_density(record, audio_band(), 30);
    ASSERT_TRUE(found);
    ASSERT_EQ(found->frequency_hz.size(), 30U);
    const double expected = 1.0 / std::sqrt(24000.0);
    for (std::size_t i = 0; i < 30; ++i) {
        const double width = found->frequency_hz[i] * 0.23;  // a column, Hz
        EXPECT_NEAR(found->volts_per_root_hz[i] / expected, 1.0,
                    5.0 / (2.0 * std::sqrt(4.0 * width)))
            << found->frequency_hz[i];
    }
    EXPECT_NEAR(found->frequency_hz[1] / found->frequency_hz[0],
                found->frequency_hz[29] / found->frequency_hz[28], 1e-9);
}

}  // namespace
}  // namespace afterload::analysis
