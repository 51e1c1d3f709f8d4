#include "instruments/half_band.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <vector>

namespace afterload::instruments {
namespace {

constexpr double passband = 0.2268;  // of the higher rate
constexpr double attenuation = 116.0;

/// Response of the taps at `frequency` of the higher rate.
double response(const std::vector<double>& taps, double frequency) {
    double sum = 0.5;
    for (std::size_t k = 0; k < taps.size(); ++k) {
        const auto distance = static_cast<double>(2 * k + 1);
        sum += 2.0 * taps[k] * std::cos(2.0 * std::numbers::pi * frequency * distance);
    }
    return sum;
}

// Kaiser 1974: the design meets its attenuation within a decibel; passband and stopband errors are
// equal in a half-band filter.
TEST(HalfBand, PassbandIsFlatAndStopbandIsDark) {
    const std::vector<double> taps = half_band_taps(passband, attenuation);
    const double error = std::pow(10.0, -(attenuation - 1.0) / 20.0);
    for (double f = 0.0; f <= passband; f += 0.0005) {
        EXPECT_NEAR(response(taps, f), 1.0, error) << f;
        EXPECT_NEAR(response(taps, 0.5 - f), 0.0, error) << f;
    }
}

std::vector<double> tone(double frequency, std::size_t frames) {
    std::vector<double> x;
    for (std::size_t i = 0; i < frames; ++i) {
        const double angle = 2.0 * std::numbers::pi * frequency * static_cast<double>(i);
        x.push_back(std::cos(angle));
        x.push_back(std::sin(angle));
    }
    return x;
}

TEST(HalfBand, DoublingThenHalvingGivesTheSignalBackLate) {
    const std::vector<double> taps = half_band_taps(passband, attenuation);
    RateDoubler doubler{taps};
    RateHalver halver{taps};
    const std::vector<double> in = tone(0.31, 600);
    std::vector<double> out;
    // Odd lengths: the samples must not depend on how they were cut.
    for (std::size_t at = 0; at < in.size();) {
        const std::size_t size = std::min<std::size_t>(2 * 37, in.size() - at);
        std::vector<double> twice(2 * size);
        std::vector<double> once(size);
        doubler.process({in.data() + at, size}, twice);
        halver.process(twice, once);
        out.insert(out.end(), once.begin(), once.end());
        at += size;
    }
    const std::size_t late = 2 * (2 * taps.size() - 1);  // K − ½ frames each way, 2·K − 1 in all
    for (std::size_t i = 4 * late; i < in.size(); ++i) {
        EXPECT_NEAR(out[i], in[i - late], 1e-5) << i;
    }
}

TEST(HalfBand, CuttingASignalIntoBlocksChangesNoBit) {
    const std::vector<double> taps = half_band_taps(passband, attenuation);
    const std::vector<double> in = tone(0.1, 512);
    RateDoubler whole{taps};
    std::vector<double> expected(2 * in.size());
    whole.process(in, expected);
    RateDoubler cut{taps};
    std::vector<double> out(2 * in.size());
    for (std::size_t at = 0; at < in.size();) {
        const std::size_t size = std::min<std::size_t>(2 * 13, in.size() - at);
        cut.process({in.data() + at, size}, {out.data() + 2 * at, 2 * size});
        at += size;
    }
    EXPECT_EQ(out, expected);
}

}  // namespace
}  // namespace afterload::instruments
