#include "instruments/noise_source.hpp"

#include "instruments/white_noise.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

namespace afterload::instruments {
namespace {

constexpr std::size_t many = 400000;

std::vector<double> samples(std::uint64_t seed, std::uint64_t stream) {
    NoiseSource source{seed, stream};
    std::vector<double> x(many, 0.0);
    source.add_to(x, 1, 1.0);
    return x;
}

double moment(const std::vector<double>& x, int power) {
    double sum = 0.0;
    for (const double v : x) {
        sum += std::pow(v, power);
    }
    return sum / static_cast<double>(x.size());
}

// Standard errors of sample moments of a normal distribution: 1/√n, √(2/n), √(15/n), √(96/n).
TEST(NoiseSource, SamplesHaveTheMomentsOfANormalDistribution) {
    const std::vector<double> x = samples(1, 1);
    const double n = static_cast<double>(many);
    EXPECT_NEAR(moment(x, 1), 0.0, 4.0 / std::sqrt(n));
    EXPECT_NEAR(moment(x, 2), 1.0, 4.0 * std::sqrt(2.0 / n));
    EXPECT_NEAR(moment(x, 3), 0.0, 4.0 * std::sqrt(15.0 / n));
    EXPECT_NEAR(moment(x, 4), 3.0, 4.0 * std::sqrt(96.0 / n) + 0.01);
}

TEST(NoiseSource, NeighboursAndStreamsAreIndependent) {
    const std::vector<double> x = samples(1, 1);
    const std::vector<double> y = samples(1, 2);
    double neighbours = 0.0;
    double streams = 0.0;
    for (std::size_t i = 0; i + 1 < many; ++i) {
        neighbours += x[i] * x[i + 1];
        streams += x[i] * y[i];
    }
    const double bound = 4.0 * std::sqrt(static_cast<double>(many));
    EXPECT_LT(std::abs(neighbours), bound);
    EXPECT_LT(std::abs(streams), bound);
}

TEST(NoiseSource, TheSameSeedGivesTheSameNumbers) {
    EXPECT_EQ(samples(7, 3), samples(7, 3));
    EXPECT_NE(samples(7, 3), samples(8, 3));
}

TEST(NoiseSource, AStrideLeavesTheOtherChannelAlone) {
    NoiseSource source{1, 1};
    std::vector<double> frames(20, 0.0);
    source.add_to(frames, 2, 1.0);
    for (std::size_t i = 0; i < frames.size(); ++i) {
        EXPECT_EQ(frames[i] != 0.0, i % 2 == 0) << i;
    }
}

TEST(NoiseSource, NormalNumbersStayWithinTheirCut) {
    NoiseSource source{1, 1};
    for (int i = 0; i < 2000; ++i) {
        EXPECT_LE(std::abs(source.normal_within(1.5)), 1.5);
    }
}

// The A-weighting lets through as much white noise as a flat band of some 13.5 kHz when nothing
// ends the band; IEC 61672-1 table 3 gives -9.3 dB at 20 kHz and -1.1 dB at 8 kHz, so the part
// above 24 kHz is small.
TEST(WhiteNoise, AWeightedBandwidthIsThatOfTheStandardsTable) {
    // Nominal third-octave frequencies and weightings of IEC 61672-1 table 3, 1 kHz to 20 kHz.
    const std::vector<std::pair<double, double>> table{
        {1000, 0.0},   {1250, 0.6},   {1600, 1.0},   {2000, 1.2},  {2500, 1.3},
        {3150, 1.2},   {4000, 1.0},   {5000, 0.5},   {6300, -0.1}, {8000, -1.1},
        {10000, -2.5}, {12500, -4.3}, {16000, -6.6}, {20000, -9.3}};
    double area = 0.0;
    for (std::size_t i = 0; i + 1 < table.size(); ++i) {
        const double low = std::pow(10.0, table[i].second / 10.0);
        const double high = std::pow(10.0, table[i + 1].second / 10.0);
        area += 0.5 * (low + high) * (table[i + 1].first - table[i].first);
    }
    // Below 1 kHz some 0.5 kHz, above 20 kHz some 0.4 kHz; the table is rounded to 0.1 dB (2.3 %).
    EXPECT_NEAR(a_weighted_bandwidth(), area + 900.0, 0.04 * area);
}

}  // namespace
}  // namespace afterload::instruments
