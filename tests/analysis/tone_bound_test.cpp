// How near the fit comes to the Cramér-Rao bound in white noise (Rife and Boorstyn, IEEE Trans.
// IT-20(5), 1974; S. M. Kay, Estimation Theory, 1993): var A ≥ 2σ²/N, var ω ≥ 24σ²/(A²N(N²-1)),
// harmonics 2σ²/N each. 600 draws know a deviation to 1/√1200 = 2.9 %.
#include "analysis/tone.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace afterload::analysis {
namespace {

using test::noise_below;
using test::Synthesis;
using test::two_pi;

constexpr int draws = 600;

struct Ratio {
    double amplitude = 0.0;
    double frequency = 0.0;
    double third = 0.0;
    double stated_amplitude = 0.0;  // rms stated over rms found
    double stated_frequency = 0.0;
};

Ratio over_bound(double seconds, double nominal, double snr_db, bool hum) {
    constexpr double rate = 48000.0;
    std::mt19937_64 engine{static_cast<std::uint64_t>(snr_db + 1000.0 * seconds + nominal)};
    std::uniform_real_distribution<double> unit{-1.0, 1.0};
    const double sigma = noise_below(1.0, snr_db);
    double amplitude = 0.0;
    double frequency = 0.0;
    double third = 0.0;
    double u_amplitude = 0.0;
    double u_frequency = 0.0;
    for (int draw = 0; draw < draws; ++draw) {
        const double f = nominal * (1.0 + 200e-6 * unit(engine));
        Synthesis record{rate, seconds};
        record.line(f, 1.0, 3.14 * unit(engine));
        record.line(2.0 * f, 1e-3, 3.14 * unit(engine)).line(3.0 * f, 1e-3, 3.14 * unit(engine));
        if (hum) {
            const double mains = 50.0 + 0.05 * unit(engine);
            record.line(mains, 1e-3, unit(engine)).line(2.0 * mains, 3e-4, 3.0 * unit(engine));
        }
        record.noise(sigma, engine());
        ToneFitSettings settings;
        settings.nominal = Hertz{nominal};
        settings.highest_harmonic = 9;
        if (hum) {
            settings.mains = Hertz{50.0};
        }
        const auto fit = fit_tone(record, settings);
        if (!fit) {
            ADD_FAILURE() << fit.error().what;
            return {};
        }
        amplitude += std::pow(fit->fundamental.amplitude - 1.0, 2);
        frequency += std::pow(fit->fundamental.frequency.in<Hertz>() - f, 2);
        third += std::pow(fit->harmonics[1].amplitude - 1e-3, 2);
        u_amplitude += std::pow(fit->fundamental.sigma, 2);
        u_frequency += std::pow(fit->frequency_u_k1, 2);
    }
    const double n = std::round(rate * seconds);
    const double bound = std::sqrt(2.0 / n) * sigma;
    const double bound_hz = std::sqrt(24.0 / (n * (n * n - 1.0))) * sigma * rate / two_pi;
    return {std::sqrt(amplitude / draws) / bound, std::sqrt(frequency / draws) / bound_hz,
            std::sqrt(third / draws) / bound, std::sqrt(u_amplitude / amplitude),
            std::sqrt(u_frequency / frequency)};
}

void expect_near_bound(const Ratio& ratio) {
    // Expected 1.02 and 1.06 for 5 % ends; below 0.9 would be too good to be true.
    EXPECT_LT(ratio.amplitude, 1.2);
    EXPECT_GT(ratio.amplitude, 0.9);
    EXPECT_LT(ratio.frequency, 1.2);
    EXPECT_GT(ratio.frequency, 0.9);
    EXPECT_LT(ratio.third, 1.2);
    EXPECT_GT(ratio.third, 0.9);
    // And what it states is what it does.
    EXPECT_NEAR(ratio.stated_amplitude, 1.0, 0.12);
    EXPECT_NEAR(ratio.stated_frequency, 1.0, 0.12);
    testing::Test::RecordProperty("amplitude", std::to_string(ratio.amplitude));
    testing::Test::RecordProperty("frequency", std::to_string(ratio.frequency));
    testing::Test::RecordProperty("third", std::to_string(ratio.third));
}

TEST(ToneBound, IsReachedAtSixtyDecibels) {
    expect_near_bound(over_bound(0.05, 997.0, 60.0, false));
}
TEST(ToneBound, IsReachedAtHundredDecibels) {
    expect_near_bound(over_bound(0.05, 997.0, 100.0, false));
}
TEST(ToneBound, IsReachedAtSixtyDecibelsBesideHum) {
    expect_near_bound(over_bound(0.2, 997.0, 60.0, true));
}
TEST(ToneBound, IsReachedAtHundredDecibelsBesideHum) {
    expect_near_bound(over_bound(0.2, 997.0, 100.0, true));
}
TEST(ToneBound, IsReachedAtSevenKilohertz) {
    expect_near_bound(over_bound(0.2, 6667.0, 100.0, false));
}

}  // namespace
}  // namespace afterload::analysis
