#include "analysis/spectrum.hpp"

#include "tests/analysis/published.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace afterload::analysis {
namespace {

using test::expect_published;
using test::Synthesis;
using test::two_pi;

constexpr const char* heinzel = "Heinzel, Rüdiger, Schilling 2002, section 13";

// The published test signal: G. Heinzel, A. Rüdiger, R. Schilling, "Spectrum and spectral density
// estimation by the Discrete Fourier transform", 15 Feb 2002, section 13. 10 kHz, 2 V rms at 1234
// Hz, 0.7071 V rms at 2500.2157 Hz, rounded to 1 mV.
Waveform published_signal() {
    constexpr double rate = 10000.0;
    constexpr double step = 1e-3;
    Waveform waveform{std::vector<double>(10000 + 399 * 2500), SampleRate{rate}};
    for (std::size_t n = 0; n < waveform.volts.size(); ++n) {
        const double t = static_cast<double>(n) / rate;
        const double u = 2.82842712474619 * std::sin(two_pi * 1234.0 * t) +
                         1.0 * std::sin(two_pi * 2500.2157 * t);
        waveform.volts[n] = std::floor(u / step + 0.5) * step;
    }
    return waveform;
}

TEST(Spectrum, ReadsThePublishedTestSignal) {
    const Waveform signal = published_signal();
    struct Expected {
        WindowKind window;
        double second_line;  // read at the nearest bin
        double digits;
    };
    // Values at 2500 Hz: 0.7071 within the flatness of the window (HFT116D 0.0028 dB, HFT70 0.0065
    // dB), for Hann scalloped at 0.2157 bin.
    for (const Expected& expected : {Expected{WindowKind::hft116d, 0.707269, 1e-6},
                                     Expected{WindowKind::hft70, 0.707482, 1e-6},
                                     Expected{WindowKind::hann, 0.686143, 1e-6}}) {
        const auto found = spectrum(signal, {expected.window, Frames{10000}, 0.75});
        ASSERT_TRUE(found);
        EXPECT_EQ(found->averages, 400);
        EXPECT_DOUBLE_EQ(found->bin_width.in<Hertz>(), 1.0);
        const std::string window{name(expected.window)};
        expect_published(heinzel, "test signal, line at 1234 Hz, V rms, " + window,
                         found->volts_rms[1234], 2.0, 1e-6);
        expect_published(heinzel, "test signal, bin at 2500 Hz, V rms, " + window,
                         found->volts_rms[2500], expected.second_line, expected.digits);
    }
}

TEST(Spectrum, NoiseFloorOfRoundingIsStepOverRootSixRate) {
    const auto found = spectrum(published_signal(), {WindowKind::hann, Frames{10000}, 0.75});
    ASSERT_TRUE(found);
    double power = 0.0;
    int bins = 0;
    for (std::size_t k = 2900; k < 4900; ++k, ++bins) {
        power += std::pow(found->density(k), 2);
    }
    // 4.08248 µV/√Hz; 2000 bins of some 200 independent averages scatter by 0.1 %, the rounding
    // error of two sines is white to about 1 %.
    expect_published(heinzel, "test signal, noise floor, V/√Hz", std::sqrt(power / bins),
                     1e-3 / std::sqrt(6.0 * 10000.0), 0.01 * 4.08248e-6);
}

TEST(Spectrum, FlatTopNeverLiesByMoreThanAThousandthOfADecibel) {
    for (double offset = -0.5; offset <= 0.5; offset += 0.1) {
        Synthesis record{48000.0, 0.1};
        record.line(1000.0 + 10.0 * offset, 1.0, 0.3);
        const auto found = spectrum(record, {WindowKind::hft248d, Frames{}, 0.0});
        ASSERT_TRUE(found);
        EXPECT_NEAR(test::decibels(found->volts_rms[100] * std::numbers::sqrt2), 0.0, 0.001);
    }
}

TEST(Spectrum, CutsARecordOfPrimeLengthInsteadOfPaddingIt) {
    Synthesis record{48000.0, 4799.0 / 48000.0};
    const auto found = spectrum(record.line(1000.0, 1.0, 0.0), {});
    ASSERT_TRUE(found);
    EXPECT_EQ(found->volts_rms.size(), 4608U / 2 + 1);  // 4608 = 2^9 3^2 is the next good one below
}

TEST(Spectrum, MeanStandsInTheFirstBinOnce) {
    Synthesis record{48000.0, 0.1};
    const auto found = spectrum(record.dc(0.25), {WindowKind::hann, Frames{}, 0.0});
    ASSERT_TRUE(found);
    EXPECT_NEAR(found->volts_rms[0], 0.25, 1e-12);
}

TEST(Spectrum, RefusesAFewSamples) {
    Synthesis record{48000.0, 63.0 / 48000.0};
    const auto found = spectrum(record, {});
    ASSERT_FALSE(found);
    EXPECT_EQ(found.error().kind, FigureFailure::Kind::record_too_short);
}

}  // namespace
}  // namespace afterload::analysis
