#include "analysis/pink_noise.hpp"

#include "analysis/transform.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <stdexcept>

namespace afterload::analysis {
namespace {

constexpr std::size_t length = 131072 * 2;
const SampleRate rate{48000.0};
const Band band{Hertz{20.0}, Hertz{20000.0}};

double power_between(const std::vector<std::complex<double>>& spectrum, double low, double high) {
    const double step = rate.frequency().in<Hertz>() / static_cast<double>(length);
    double sum = 0.0;
    for (std::size_t k = 0; k < spectrum.size(); ++k) {
        const double frequency = step * static_cast<double>(k);
        sum += frequency >= low && frequency < high ? std::norm(spectrum[k]) : 0.0;
    }
    return sum;
}

TEST(PinkNoise, HasEqualPowerInEveryOctaveOfItsBand) {
    const auto samples = pink_noise_loop(length, rate, band, 4.0, 7);
    const auto spectrum = RealTransform{length}.forward(samples);
    const double first = power_between(spectrum, 40.0, 80.0);
    for (double low = 80.0; low < 9000.0; low *= 2.0) {
        const double octave = power_between(spectrum, low, 2.0 * low);
        EXPECT_NEAR(10.0 * std::log10(octave / first), 0.0, 0.5) << low;
    }
}

TEST(PinkNoise, HasNothingOutsideItsBand) {
    const auto samples = pink_noise_loop(length, rate, band, 4.0, 7);
    const auto spectrum = RealTransform{length}.forward(samples);
    const double inside = power_between(spectrum, 5000.0, 10000.0);
    EXPECT_LT(power_between(spectrum, 0.0, 19.0), 1e-4 * inside);
    EXPECT_LT(power_between(spectrum, 20500.0, 24000.0), 1e-4 * inside);
}

TEST(PinkNoise, ItsPeaksAreSoManyTimesItsRms) {
    const auto samples = pink_noise_loop(length, rate, band, 4.0, 7);
    double sum = 0.0;
    double peak = 0.0;
    for (const double sample : samples) {
        sum += sample * sample;
        peak = std::max(peak, std::abs(sample));
    }
    EXPECT_DOUBLE_EQ(peak, 1.0);
    EXPECT_NEAR(peak / std::sqrt(sum / static_cast<double>(length)), 4.0, 0.02);
}

TEST(PinkNoise, IsTheSameOfTheSameSeedAndAnotherOfAnother) {
    EXPECT_EQ(pink_noise_loop(4096, rate, band, 4.0, 1), pink_noise_loop(4096, rate, band, 4.0, 1));
    EXPECT_NE(pink_noise_loop(4096, rate, band, 4.0, 1), pink_noise_loop(4096, rate, band, 4.0, 2));
}

TEST(PinkNoise, RefusesWhatIsNoBandOrNoLength) {
    EXPECT_THROW((void)pink_noise_loop(4097, rate, band, 4.0, 1), std::invalid_argument);
    EXPECT_THROW((void)pink_noise_loop(4096, rate, {Hertz{100.0}, Hertz{24000.0}}, 4.0, 1),
                 std::invalid_argument);
    EXPECT_THROW((void)pink_noise_loop(4096, rate, band, 2.0, 1), std::invalid_argument);
}

}  // namespace
}  // namespace afterload::analysis
