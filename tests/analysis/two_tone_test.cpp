#include "analysis/two_tone.hpp"

#include "analysis/measure_two_tone.hpp"
#include "tests/analysis/published.hpp"
#include "tests/analysis/synthesis.hpp"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace afterload::analysis {
namespace {

using namespace literals;
using test::expect_published;
using test::Synthesis;
using testing::HasSubstr;

// A pair whose peaks add up to 1 V through y = x + a2 x² + a3 x³, on a clock 137 ppm off. At 192
// kHz no product up to the third order of 20 kHz folds.
Synthesis bent(const TwoTonePair& pair, double a2, double a3, double seconds,
               double rate = 192000.0) {
    const double high = 1.0 / (1.0 + pair.low_over_high);
    const double clock = 1.0 + 137e-6;
    Synthesis record{rate, seconds};
    record.line(clock * pair.low.in<Hertz>(), 1.0 - high, 0.3);
    record.line(clock * pair.high.in<Hertz>(), high, 1.1);
    for (double& x : record.volts()) {
        x += a2 * x * x + a3 * x * x * x;
    }
    return record;
}

TwoToneFit fitted(WaveformView record, const TwoTonePair& pair,
                  std::optional<Hertz> mains = std::nullopt) {
    TwoToneSettings settings;
    settings.low = pair.low;
    settings.high = pair.high;
    settings.mains = mains;
    const auto fit = fit_two_tones(record, settings);
    if (!fit) {
        ADD_FAILURE() << fit.error().what;
        return {};
    }
    return *fit;
}

// Closed forms of two tones A1, A2 through a square and a cubic law: f2 ± f1 hold a2 A1 A2 each,
// f2 ± 2f1 3/4 a3 A1² A2, the carrier A2 + a3 (3/4 A2³ + 3/2 A1² A2). With A1 = 0.8 and A2 = 0.2
// the conventions then give, in percent (derived, and checked by transform to 1e-15):
struct Modulation {
    double a2;
    double a3;
    double side_tones;
    double second;
    double third;
    double together;
};
constexpr Modulation modulation_table[] = {
    {0.01, 0.01, 1.306459848, 1.584315279, 0.950589167, 1.847613235},
    {0.01, 0.0, 1.131370850, 1.6, 0.0, 1.6},
    {0.0, 0.01, 0.672168046, 0.0, 0.950589167, 0.950589167},
};

TEST(ModulationDistortion, EachConventionReadsItsClosedForm) {
    for (const TwoTonePair& pair : {smpte_pair, din_pair}) {
        for (const Modulation& row : modulation_table) {
            const Synthesis record = bent(pair, row.a2, row.a3, 0.5);
            const auto found = modulation_distortion(fitted(record, pair));
            ASSERT_TRUE(found);
            EXPECT_EQ(found->counted, 4);
            // Percent; the record has no noise, so what is left is the fit's own.
            const std::string which =
                fmt::format("{:.0f} Hz and {:.0f} Hz 4:1, a2 {}, a3 {}: ", pair.low.in<Hertz>(),
                            pair.high.in<Hertz>(), row.a2, row.a3);
            expect_published("SMPTE RP 120, DIN 45403-4; closed form", which + "side tones, %",
                             100.0 * found->side_tones.value, row.side_tones, 1e-6);
            expect_published("IEC 60268-3, 14.12.7; closed form", which + "second order, %",
                             100.0 * found->iec_second, row.second, 1e-6);
            expect_published("IEC 60268-3, 14.12.7; closed form", which + "third order, %",
                             100.0 * found->iec_third, row.third, 1e-6);
            EXPECT_NEAR(100.0 * std::hypot(found->iec_second, found->iec_third), row.together,
                        1e-6);
            // Upper and lower side tone are in step: what they demodulate to is their sum.
            EXPECT_NEAR(100.0 * found->demodulated, row.together, 1e-6);
        }
    }
}

// A phase modulation has side tones of the same size as an amplitude modulation and moves no
// envelope: the conventions that add magnitudes count it, the demodulated one does not.
TEST(ModulationDistortion, PhaseModulationHasSideTonesAndMovesNoEnvelope) {
    Synthesis record{48000.0, 0.5};
    const double depth = 1e-3;
    for (std::size_t n = 0; n < record.volts().size(); ++n) {
        const double t = static_cast<double>(n) / 48000.0;
        const double low = std::sin(test::two_pi * 60.0 * t);
        record.volts()[n] = 0.8 * low + 0.2 * std::sin(test::two_pi * 7000.0 * t + depth * low);
    }
    const auto found = modulation_distortion(fitted(record, smpte_pair));
    ASSERT_TRUE(found);
    // Bessel: J1(β)/J0(β) = β/2 for small β, a pair of them.
    EXPECT_NEAR(found->iec_second, depth, 1e-8);
    EXPECT_LT(found->demodulated, 1e-3 * depth);
}

// 0.5 V + 0.5 V at 19 and 20 kHz: tone 0.5 + a3 (3/4 + 3/2)/8, 1 kHz a2/4, 18 and 21 kHz 3/32 a3
// each (derived).
TEST(DifferenceDistortion, EachConventionReadsItsClosedForm) {
    struct Row {
        double a2;
        double a3;
        double second;
        double third;
        double over_one;
    };
    for (const Row& row :
         {Row{0.01, 0.01, 0.248601616, 0.186451212, 0.497203232}, Row{0.01, 0.0, 0.25, 0.0, 0.5}}) {
        const Synthesis record = bent(difference_pair, row.a2, row.a3, 0.25);
        const auto found = difference_distortion(fitted(record, difference_pair));
        ASSERT_TRUE(found);
        EXPECT_EQ(found->counted, 3);
        const std::string which = fmt::format("19 and 20 kHz, a2 {}, a3 {}: ", row.a2, row.a3);
        expect_published("IEC 60268-3, 14.12.8; closed form", which + "second order, %",
                         100.0 * found->iec_second, row.second, 1e-6);
        expect_published("IEC 60268-3, 14.12.8; closed form", which + "third order, %",
                         100.0 * found->iec_third, row.third, 1e-6);
        EXPECT_NEAR(100.0 * found->second_over_one_tone, row.over_one, 1e-6);
        EXPECT_NEAR(100.0 * found->products.value,
                    std::sqrt(row.second * row.second + row.third * row.third / 2.0), 1e-6);
        EXPECT_NEAR(100.0 * found->total,
                    std::sqrt(row.second * row.second + row.third * row.third / 4.0), 1e-6);
    }
}

// IEC 60268-3, 14.12.10: 8 kHz and 11.95 kHz put f2 - f1 at 3.95 kHz and 2f1 - f2 at 4.05 kHz.
TEST(DifferenceDistortion, TotalDifferenceProductsStandAHundredHertzApart) {
    const TwoTonePair pair{8_kHz, Hertz{11950.0}, 1.0};
    const Synthesis record = bent(pair, 0.01, 0.01, 0.25);
    const TwoToneFit fit = fitted(record, pair);
    const double clock = 1.0 + 137e-6;
    ASSERT_NE(fit.product(-1, 1), nullptr);
    ASSERT_NE(fit.product(2, -1), nullptr);
    EXPECT_NEAR(fit.product(-1, 1)->line.frequency.in<Hertz>(), 3950.0 * clock, 1e-4);
    EXPECT_NEAR(fit.product(2, -1)->line.frequency.in<Hertz>(), 4050.0 * clock, 1e-4);
    EXPECT_NEAR(100.0 * difference_distortion(fit)->total,
                std::hypot(0.248601616, 0.186451212 / 2.0), 1e-6);
}

// Hum beside the tones, on a clock of its own: 60 dB over the products, and not in them.
TEST(TwoTone, MainsLinesAreFittedBesideTheProducts) {
    Synthesis record = bent(din_pair, 1e-4, 1e-4, 0.5, 48000.0);
    record.line(50.013, 0.1, 2.0).line(150.039, 0.03, 1.0).noise(1e-6, 3);
    const TwoToneFit fit = fitted(record, din_pair, 50_Hz);
    // 250 Hz is the fifth of the mains: that line is the tone's.
    EXPECT_EQ(fit.mains_left_out, std::vector<int>{5});
    const auto found = modulation_distortion(fit);
    ASSERT_TRUE(found);
    // The closed form above with 10⁻⁴: √(2 (16² + 9.6²)) · 10⁻⁶ V over 0.2000198 V. Three
    // deviations, for it is one draw.
    EXPECT_NEAR(found->side_tones.value, 1.319263e-4, 3.0 * found->side_tones.u_k1);
}

// 19 and 19.1 kHz: the difference falls on the second line of the mains, which is named and not
// counted; the rest of the figure stands.
TEST(TwoTone, AProductBesideAMainsLineIsLeftOutAndSaid) {
    const TwoTonePair pair{19_kHz, Hertz{19100.0}, 1.0};
    Synthesis record = bent(pair, 0.01, 0.01, 0.5, 96000.0);
    record.line(50.0, 1e-3, 1.0).line(100.0, 1e-2, 1.0).noise(1e-6, 3);
    const TwoToneFit fit = fitted(record, pair, 50_Hz);
    EXPECT_EQ(fit.product(-1, 1), nullptr);
    ASSERT_FALSE(fit.missed.empty());
    EXPECT_TRUE(fit.missed[0].mains);
    const BenchShare bench;
    const Figure figure = difference_frequency_distortion({fit, 1, bench, {}});
    ASSERT_TRUE(figure.value);
    EXPECT_THAT(figure.details,
                testing::Contains(testing::Pair(std::string{"left_out_-1f1+1f2_beside_mains"},
                                                testing::DoubleNear(100.0, 0.1))));
    EXPECT_THAT(figure.details,
                testing::Contains(testing::Pair(std::string{"products_counted"}, 2.0)));
    EXPECT_NEAR(*figure.value, 0.186451212e-2 / std::numbers::sqrt2, 1e-6);
}

// A straight transfer in noise: nothing stands out, and the figure says how little there can be.
TEST(TwoTone, NothingButNoiseIsABound) {
    Synthesis record = bent(smpte_pair, 0.0, 0.0, 0.5, 48000.0);
    record.noise(1e-4, 8);
    const BenchShare bench;
    const TwoToneFit fit = fitted(record, smpte_pair);
    const Figure figure = modulation_distortion({fit, 2, bench, {}});
    EXPECT_FALSE(figure.value);
    ASSERT_TRUE(figure.bound);
    EXPECT_EQ(figure.bound->side, Bound::Side::at_most);
    // A line's sigma is √(2/N) of the noise: 9.1e-7 V, 4.6e-6 of the carrier; four of them.
    EXPECT_GT(figure.bound->value, 4.6e-6);
    EXPECT_LT(figure.bound->value, 6.0 * 4.6e-6);
    EXPECT_EQ(figure.channel, 2);
}

TEST(TwoTone, TheStrongestPairIsFoundInAnyRecord) {
    for (const TwoTonePair& pair : {smpte_pair, din_pair, difference_pair}) {
        for (const double seconds : {0.15, 3.0}) {
            Synthesis record = bent(pair, 0.02, 0.02, seconds, 48000.0);
            record.noise(1e-4, 1);
            const auto found = dominant_pair(record);
            ASSERT_TRUE(found) << found.error().what;
            // A tenth of a bin, and 137 ppm.
            const double bin = std::max(1.0 / seconds, 48000.0 / 65536.0);
            EXPECT_NEAR(found->low.in<Hertz>(), pair.low.in<Hertz>() * 1.000137, 0.2 * bin);
            EXPECT_NEAR(found->high.in<Hertz>(), pair.high.in<Hertz>() * 1.000137, 0.2 * bin);
        }
    }
}

TEST(TwoTone, OneToneOrNoneIsNoPair) {
    Synthesis one{48000.0, 0.5};
    one.line(1000.0, 1.0, 0.0).noise(1e-2, 1);
    EXPECT_FALSE(dominant_pair(one));
    Synthesis none{48000.0, 0.5};
    none.noise(1e-2, 1);
    EXPECT_FALSE(dominant_pair(none));
    const auto fit = fit_two_tones(none, {60_Hz, 7_kHz, std::nullopt});
    ASSERT_FALSE(fit);
    EXPECT_EQ(fit.error().kind, FigureFailure::Kind::no_tone);
}

TEST(TwoTone, WhatCannotBeFittedSaysWhatWould) {
    Synthesis record{48000.0, 0.02};
    const auto too_short = fit_two_tones(record, {60_Hz, 7_kHz, std::nullopt});
    ASSERT_FALSE(too_short);
    EXPECT_EQ(too_short.error().kind, FigureFailure::Kind::record_too_short);
    EXPECT_THAT(too_short.error().what, HasSubstr("0.0333 s"));
    const auto above = fit_two_tones(record, {60_Hz, 30_kHz, std::nullopt});
    ASSERT_FALSE(above);
    EXPECT_EQ(above.error().kind, FigureFailure::Kind::out_of_range);
    const auto order = fit_two_tones(record, {7_kHz, 60_Hz, std::nullopt});
    ASSERT_FALSE(order);
    EXPECT_EQ(order.error().kind, FigureFailure::Kind::out_of_range);
}

// The pair swings as far as a sine of the stated level: 4:1 has 0.68 of its power, 1:1 a half
// (derived).
TEST(TwoTone, StimulusSwingsAsFarAsTheSineOfItsLevel) {
    const Stimulus stimulus = two_tones(smpte_pair, 1_Vrms, true, false);
    ASSERT_EQ(stimulus.channels[0].size(), 2U);
    EXPECT_TRUE(stimulus.channels[1].empty());
    const double low = stimulus.channels[0][0].amplitude.in<VoltsPeak>();
    const double high = stimulus.channels[0][1].amplitude.in<VoltsPeak>();
    EXPECT_NEAR(low / high, 4.0, 1e-12);
    EXPECT_NEAR(low + high, std::numbers::sqrt2, 1e-12);
    EXPECT_NEAR((low * low + high * high) / 2.0, 0.68, 1e-12);
    const Stimulus both = two_tones(difference_pair, 2_Vrms, true, true);
    double power = 0.0;
    for (const Partial& partial : both.channels[1]) {
        power += std::pow(partial.amplitude.in<VoltsPeak>(), 2) / 2.0;
    }
    EXPECT_NEAR(power, 2.0, 1e-12);
}

TEST(TwoTone, ClosePairsAskForTheirDifferenceAndWideOnesForModulation) {
    EXPECT_TRUE(close_together(19_kHz, 20_kHz));
    EXPECT_TRUE(close_together(8_kHz, Hertz{11950.0}));
    EXPECT_FALSE(close_together(60_Hz, 7_kHz));
    EXPECT_FALSE(close_together(250_Hz, 8_kHz));
}

}  // namespace
}  // namespace afterload::analysis
