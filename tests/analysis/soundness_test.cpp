#include "analysis/soundness.hpp"

#include "tests/analysis/synthesis.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

namespace afterload::analysis {
namespace {

using namespace literals;
using test::noise_below;
using test::Synthesis;

Expectation tone_of(double nominal) {
    Expectation expected;
    expected.tone = Hertz{nominal};
    expected.mains = 50_Hz;
    expected.full_scale = VoltsPeak{2.0};
    return expected;
}

std::string told(const std::vector<CaptureFault>& faults) {
    std::string text;
    for (const CaptureFault& fault : faults) {
        text += "[" + std::string{name(fault.kind)} + " " + fault.note + "]";
    }
    return text;
}

// `count` samples are missing from sample `at` on.
void cut(std::vector<double>& x, std::size_t at, std::size_t count) {
    x.erase(x.begin() + static_cast<std::ptrdiff_t>(at),
            x.begin() + static_cast<std::ptrdiff_t>(at + count));
}
// The `count` samples before `at` stand again.
void say_again(std::vector<double>& x, std::size_t at, std::size_t count) {
    const std::vector<double> again(x.begin() + static_cast<std::ptrdiff_t>(at - count),
                                    x.begin() + static_cast<std::ptrdiff_t>(at));
    x.insert(x.begin() + static_cast<std::ptrdiff_t>(at), again.begin(), again.end());
}

Synthesis healthy(double rate, double seconds, double f, double snr, double distortion,
                  std::uint64_t seed) {
    Synthesis record{rate, seconds};
    const double true_f = f * (1.0 + 150e-6);
    record.line(true_f, 1.0, 0.3).dc(0.01);
    if (3.0 * true_f < 0.45 * rate) {
        record.line(2.0 * true_f, 0.7 * distortion, 1.0).line(3.0 * true_f, 0.7 * distortion, 2.0);
    }
    record.line(50.02, 3e-3, 0.1).line(100.04, 3e-3, 0.4).line(150.06, 1e-3, 0.4);
    record.noise(noise_below(1.0, snr), seed);
    return record;
}

TEST(Soundness, HealthyRecordsRaiseNoAlarm) {
    std::uint64_t seed = 1;
    for (const double rate : {48000.0, 192000.0}) {
        for (const double seconds : {0.2, 1.0}) {
            for (const double f : {19.7, 67.0, 330.0, 997.0, 6667.0, 20000.0}) {
                for (const double snr : {40.0, 70.0, 100.0}) {
                    for (const double distortion : {0.0, 0.1}) {
                        if (f * seconds < 3.0) {
                            continue;
                        }
                        const Synthesis record = healthy(rate, seconds, f, snr, distortion, ++seed);
                        const auto faults = faults_of(record, tone_of(f));
                        EXPECT_TRUE(faults.empty()) << told(faults) << " " << f << " Hz " << seconds
                                                    << " s " << snr << " dB";
                        EXPECT_TRUE(level_events({record}, Hertz{f}).empty())
                            << f << " Hz " << seconds << " s " << snr << " dB";
                    }
                }
            }
        }
    }
}

TEST(Soundness, AGapIsToldInWholeSamplesWhereItStands) {
    for (const double snr : {50.0, 90.0}) {
        for (const std::size_t count : {1U, 3U, 24U, 64U}) {
            Synthesis record = healthy(48000.0, 1.0, 997.0, snr, 0.01, count);
            cut(record.volts(), 21000, count);
            const auto faults = faults_of(record, tone_of(997.0));
            ASSERT_EQ(faults.size(), 1U) << told(faults) << count;
            EXPECT_EQ(faults[0].kind, CaptureFaultKind::gap);
            EXPECT_NEAR(faults[0].start.in<Seconds>(), 21000.0 / 48000.0, 0.002);
            EXPECT_EQ(faults[0].note, std::to_string(count) + " samples are missing");
        }
    }
}

TEST(Soundness, ARepeatedBufferIsTold) {
    for (const std::size_t count : {64U, 256U, 480U, 1024U}) {
        Synthesis record = healthy(48000.0, 1.0, 997.0, 70.0, 0.01, count);
        say_again(record.volts(), 30000, count);
        const auto faults = faults_of(record, tone_of(997.0));
        ASSERT_EQ(faults.size(), 1U) << told(faults) << count;
        EXPECT_EQ(faults[0].kind, CaptureFaultKind::repeat);
        EXPECT_NEAR(faults[0].start.in<Seconds>(), 30000.0 / 48000.0, 0.001);
        EXPECT_EQ(faults[0].note, std::to_string(count) + " samples stand twice");
    }
}

TEST(Soundness, TwoGapsAreTwo) {
    Synthesis record = healthy(48000.0, 2.0, 997.0, 70.0, 0.0, 5);
    cut(record.volts(), 60000, 17);
    cut(record.volts(), 20000, 8);
    const auto faults = faults_of(record, tone_of(997.0));
    ASSERT_EQ(faults.size(), 2U) << told(faults);
    EXPECT_EQ(faults[0].note, "8 samples are missing");
    EXPECT_EQ(faults[1].note, "17 samples are missing");
}

TEST(Soundness, ASampleIsMissedAtLowAndHighTones) {
    for (const double f : {67.0, 330.0, 6667.0, 20000.0}) {
        Synthesis record = healthy(48000.0, 2.0, f, 90.0, 0.0, 6);
        cut(record.volts(), 50000, 1);
        const auto faults = faults_of(record, tone_of(f));
        ASSERT_EQ(faults.size(), 1U) << told(faults) << f;
        EXPECT_EQ(faults[0].kind, CaptureFaultKind::gap) << f;
        EXPECT_EQ(faults[0].note, "1 samples are missing") << f;
    }
}

// 10 ms, a usual period of a card, holds 199.97 periods of 19997 Hz and 9.97 of 997 Hz: the tone
// goes on almost as before, and the record is spoilt all the same. How many samples is known modulo
// the tone's period alone.
TEST(Soundness, ASlipOfNearlyWholePeriodsIsSeen) {
    for (const double f : {997.0, 5997.0, 9997.0, 19996.0}) {
        for (const double rate : {48000.0, 192000.0}) {
            Synthesis record = healthy(rate, 1.0, f, 90.0, 0.001, 9);
            cut(record.volts(), static_cast<std::size_t>(0.4 * rate),
                static_cast<std::size_t>(0.01 * rate));
            const auto faults = faults_of(record, tone_of(f));
            ASSERT_EQ(faults.size(), 1U) << told(faults) << f << " Hz at " << rate;
            EXPECT_TRUE(faults[0].kind == CaptureFaultKind::gap ||
                        faults[0].kind == CaptureFaultKind::repeat)
                << told(faults);
            EXPECT_NEAR(faults[0].start.in<Seconds>(), 0.4, 0.005) << f << " Hz at " << rate;
        }
    }
}

TEST(Soundness, ASlipOfAllChannelsIsOneFault) {
    Synthesis left = healthy(48000.0, 1.0, 997.0, 80.0, 0.01, 7);
    Synthesis right = healthy(48000.0, 1.0, 997.0, 60.0, 0.03, 8);
    cut(left.volts(), 21000, 32);
    cut(right.volts(), 21000, 32);
    const auto faults = faults_of_all({left, right}, tone_of(997.0));
    ASSERT_EQ(faults.size(), 1U) << told(faults);
    EXPECT_EQ(faults[0].channel, 0);
    EXPECT_EQ(faults[0].kind, CaptureFaultKind::gap);
}

TEST(Soundness, FaultsOfOneChannelNameIt) {
    Synthesis left = healthy(48000.0, 1.0, 997.0, 80.0, 0.01, 7);
    Synthesis right = healthy(48000.0, 1.0, 997.0, 60.0, 0.03, 8);
    right.volts()[4800] = std::numeric_limits<double>::infinity();
    const auto faults = faults_of_all({left, right}, tone_of(997.0));
    ASSERT_EQ(faults.size(), 1U) << told(faults);
    EXPECT_EQ(faults[0].channel, 2);
    EXPECT_EQ(faults[0].kind, CaptureFaultKind::not_finite);
    EXPECT_DOUBLE_EQ(faults[0].start.in<Seconds>(), 0.1);
}

TEST(Soundness, AConvertersEndIsClippingAndAnAmplifiersIsNot) {
    Synthesis record{48000.0, 0.5};
    record.line(997.0, 1.0, 0.1);
    Expectation expected = tone_of(997.0);
    expected.full_scale = VoltsPeak{0.8};
    for (double& x : record.volts()) {
        // What a 24-bit converter gives: its last step on either side.
        x = std::clamp(x, -0.8, 0.8 * (1.0 - std::ldexp(1.0, -23)));
    }
    const auto clipped = faults_of(record, expected);
    ASSERT_EQ(clipped.size(), 1U) << told(clipped);
    EXPECT_EQ(clipped[0].kind, CaptureFaultKind::clipped);

    Synthesis amplifier{48000.0, 0.5};
    amplifier.line(997.0, 1.0, 0.1);
    for (double& x : amplifier.volts()) {
        x = std::clamp(x, -0.75, 0.75);
    }
    amplifier.noise(1e-5, 3);
    EXPECT_TRUE(faults_of(amplifier, expected).empty());
}

TEST(Soundness, AFullScaleSineThatJustFitsIsNotClipped) {
    Synthesis record{48000.0, 0.5};
    record.line(997.0, 1.9995, 0.1);
    EXPECT_TRUE(faults_of(record, tone_of(997.0)).empty());
}

TEST(Soundness, ALevelThatStillMovesIsUnsettled) {
    for (const double part : {0.01, -0.01, 0.1}) {
        Synthesis record{48000.0, 1.0};
        record.line(997.0, 1.0, 0.2);
        record.modulated([part](double t) { return 1.0 + part * std::exp(-t / 0.2); });
        record.noise(1e-4, 2);
        const auto faults = faults_of(record, tone_of(997.0));
        ASSERT_EQ(faults.size(), 1U) << told(faults) << part;
        EXPECT_EQ(faults[0].kind, CaptureFaultKind::unsettled);
    }
    Synthesis record{48000.0, 1.0};
    record.line(997.0, 1.0, 0.2);
    record.modulated([](double t) { return 1.0 + 0.001 * std::exp(-t / 0.2); });
    EXPECT_TRUE(faults_of(record, tone_of(997.0)).empty());  // 0.009 dB
}

TEST(Soundness, AStepOfTheLevelIsAnEventAndNoFault) {
    Synthesis record{48000.0, 1.0};
    record.line(997.0, 1.0, 0.2).modulated([](double t) { return t > 0.62 ? 0.9 : 1.0; });
    record.noise(1e-4, 2);
    EXPECT_TRUE(faults_of(record, tone_of(997.0)).empty());
    EXPECT_EQ(level_events({record}, 997_Hz).size(), 1U);
}

TEST(Soundness, NoToneWhereOneWasAskedForIsSilent) {
    Synthesis noise{48000.0, 0.5};
    const auto faults = faults_of(noise.noise(1e-4, 2), tone_of(997.0));
    ASSERT_EQ(faults.size(), 1U) << told(faults);
    EXPECT_EQ(faults[0].kind, CaptureFaultKind::silent);
    Synthesis zero{48000.0, 0.5};
    const auto zeros = faults_of(zero, tone_of(997.0));
    ASSERT_EQ(zeros.size(), 1U) << told(zeros);
    EXPECT_EQ(zeros[0].kind, CaptureFaultKind::silent);
}

TEST(Soundness, NoiseWhereSilenceWasAskedForIsSoundAndDigitalSilenceIsNot) {
    Expectation silence;
    silence.least = Seconds{0.5};
    Synthesis noise{48000.0, 0.5};
    EXPECT_TRUE(faults_of(noise.noise(1e-4, 2), silence).empty());
    Synthesis zero{48000.0, 0.5};
    const auto faults = faults_of(zero, silence);
    ASSERT_EQ(faults.size(), 1U);
    EXPECT_EQ(faults[0].kind, CaptureFaultKind::silent);
}

// A card that wakes late, or has lost its device for a moment, gives one value: noise would be read
// too low. Common practice: zeros for more than 20 ms are no signal.
TEST(Soundness, ARecordOfNoiseThatStandsStillForAMomentHasAGap) {
    Expectation silence;
    silence.silence = true;
    silence.least = Seconds{0.5};
    for (const std::size_t first : {std::size_t{0}, std::size_t{9600}, std::size_t{21600}}) {
        Synthesis late{48000.0, 0.5};
        late.noise(1e-4, 2);
        const auto from = late.volts().begin() + static_cast<std::ptrdiff_t>(first);
        std::fill(from, from + 2400, 0.0);
        const auto faults = faults_of(late, silence);
        ASSERT_EQ(faults.size(), 1U);
        EXPECT_EQ(faults[0].kind, CaptureFaultKind::gap);
        EXPECT_EQ(faults[0].start, Seconds{static_cast<double>(first) / 48000.0});
        EXPECT_EQ(faults[0].note, "the same sample for 0.05 s");
    }
}

TEST(Soundness, ANoiseBelowTheStepsOfACoarseConverterIsNoGap) {
    Expectation silence;
    silence.silence = true;
    silence.least = Seconds{0.5};
    Synthesis coarse{48000.0, 0.5};
    coarse.noise(5e-6, 2);
    for (double& x : coarse.volts()) {
        x = std::round(x * 32768.0) / 32768.0;
    }
    EXPECT_TRUE(faults_of(coarse, silence).empty());
}

// 60 Hz and 7 kHz, and 19 and 20 kHz, with products of one percent: an amplitude modulation is no
// level that moves, and a beat no dropout.
Synthesis pair_of(double low, double high, double share, double seconds) {
    Synthesis record{48000.0, seconds};
    record.line(low * 1.000137, share, 0.3).line(high * 1.000137, 1.0 - share, 1.1);
    for (double& x : record.volts()) {
        x += 0.02 * x * x + 0.015 * x * x * x;
    }
    record.line(50.02, 3e-3, 0.1).noise(1e-4, 3);
    return record;
}
struct TonePair {
    double low;
    double high;
    double share;
};
constexpr TonePair tone_pairs[] = {{60.0, 7000.0, 0.8}, {250.0, 8000.0, 0.8}, {19e3, 20e3, 0.5}};

Expectation expected_of(const TonePair& pair) {
    Expectation expected = tone_of(pair.high);
    expected.beside = Hertz{pair.low};
    return expected;
}

TEST(Soundness, HealthyPairsOfTonesRaiseNoAlarm) {
    for (const TonePair& pair : tone_pairs) {
        for (const double seconds : {0.5, 1.0}) {
            const auto faults =
                faults_of(pair_of(pair.low, pair.high, pair.share, seconds), expected_of(pair));
            EXPECT_TRUE(faults.empty()) << pair.high << " Hz: " << told(faults);
        }
    }
}

TEST(Soundness, AGapInAPairOfTonesIsFoundWhereItIs) {
    for (const TonePair& pair : tone_pairs) {
        Synthesis record = pair_of(pair.low, pair.high, pair.share, 1.0);
        cut(record.volts(), 20000, 101);
        const auto faults = faults_of(record, expected_of(pair));
        ASSERT_EQ(faults.size(), 1U) << pair.high << " Hz: " << told(faults);
        EXPECT_EQ(faults[0].kind, CaptureFaultKind::gap) << told(faults);
        EXPECT_NEAR(faults[0].start.in<Seconds>(), 20000.0 / 48000.0, 5e-3);
    }
}

TEST(Soundness, APairOfTonesThatStillMovesIsUnsettled) {
    for (const TonePair& pair : tone_pairs) {
        Synthesis record = pair_of(pair.low, pair.high, pair.share, 1.0);
        record.modulated(
            [](double t) { return 1.0 + 0.02 * t; });  // 0.13 dB from quarter to quarter
        const auto faults = faults_of(record, expected_of(pair));
        ASSERT_EQ(faults.size(), 1U) << pair.high << " Hz: " << told(faults);
        EXPECT_EQ(faults[0].kind, CaptureFaultKind::unsettled) << told(faults);
    }
}

TEST(Soundness, ShorterThanNeededIsShort) {
    Synthesis record = healthy(48000.0, 0.5, 997.0, 80.0, 0.0, 3);
    Expectation expected = tone_of(997.0);
    expected.least = Seconds{0.6};
    const auto faults = faults_of(record, expected);
    ASSERT_EQ(faults.size(), 1U) << told(faults);
    EXPECT_EQ(faults[0].kind, CaptureFaultKind::too_short);
    EXPECT_EQ(faults_of(WaveformView{{}, SampleRate{48000.0}}, expected).size(), 1U);
}

}  // namespace
}  // namespace afterload::analysis
