#include "instruments/sound_card_model.hpp"

#include "instruments/digitiser.hpp"
#include "instruments/white_noise.hpp"
#include "tests/instruments/probe.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

namespace afterload::instruments {
namespace {

using namespace probe;

/// One second of a sine of `peak` volts at the terminals through the card alone.
std::vector<std::vector<std::int32_t>> digitised(const Simulation& simulation, double peak,
                                                 double hertz) {
    SoundCardModel card{simulation};
    Samples out(2);
    const double rate_hz = simulation.rate.frequency().in<Hertz>();
    constexpr std::size_t block = 96;
    const auto blocks = static_cast<std::size_t>(2.0 * rate_hz) / block;
    for (std::size_t b = 0; b < blocks; ++b) {
        std::vector<double> twice;
        for (std::size_t i = 0; i < 2 * block; ++i) {
            const auto n = static_cast<double>(2 * b * block + i);
            const double v =
                peak * std::cos(std::numbers::pi * std::fmod(hertz * n / rate_hz, 2.0));
            twice.push_back(v);
            twice.push_back(-v);
        }
        std::vector<double> frames(2 * block);
        card.take_in(twice, frames);
        card.convert(frames, out);
    }
    for (auto& channel : out) {  // the first second settles
        channel.erase(channel.begin(), channel.begin() + static_cast<std::ptrdiff_t>(rate_hz));
    }
    return out;
}

TEST(SoundCardModel, LevelIsTheCalibrationsToAMillionth) {
    Simulation simulation = clean_rig();
    simulation.ac_corner = Hertz{0.001};
    const auto x = volts(digitised(simulation, 20.0, 997.0)[0], simulation, 0);
    EXPECT_NEAR(std::abs(line(x, 997.0)), 20.0, 20.0 * 5e-6);
}

TEST(SoundCardModel, RangeErrorIsWhatTheCalibrationDoesNotKnow) {
    Simulation simulation = clean_rig();
    simulation.ac_corner = Hertz{0.001};
    simulation.ranges[0].error = {0.01, -0.02};
    const auto samples = digitised(simulation, 20.0, 997.0);
    EXPECT_NEAR(std::abs(line(volts(samples[0], simulation, 0), 997.0)), 20.0 / 1.01, 1e-3);
    EXPECT_NEAR(std::abs(line(volts(samples[1], simulation, 0), 997.0)), 20.0 / 0.98, 1e-3);
}

TEST(SoundCardModel, IntegersStopAtFullScale) {
    for (const int bits : {16, 24, 32}) {
        Simulation simulation = clean_rig();
        simulation.bits = bits;
        const auto samples = digitised(simulation, 60.0, 997.0);  // full scale 50 V
        const auto [low, high] = std::minmax_element(samples[0].begin(), samples[0].end());
        EXPECT_EQ(*high, static_cast<std::int32_t>((std::int64_t{1} << (bits - 1)) - 1)) << bits;
        EXPECT_EQ(*low, static_cast<std::int32_t>(-(std::int64_t{1} << (bits - 1)))) << bits;
    }
}

TEST(SoundCardModel, SineBelowFullScaleDoesNotReachIt) {
    const auto samples = digitised(clean_rig(), 49.9, 997.0);
    EXPECT_LT(*std::max_element(samples[0].begin(), samples[0].end()), 8388607);
}

TEST(SoundCardModel, OwnDistortionIsTheStatedOneAtMinusSixDecibels) {
    Simulation simulation = clean_rig();
    simulation.input_distortion = AmplitudeRatio{1e-4};
    const auto at_half = volts(digitised(simulation, 25.0, 997.0)[0], simulation, 0);
    EXPECT_NEAR(thd(at_half, 997.0), 1e-4, 1e-6);
    // The second falls with the level, the third with its square.
    const auto lower = volts(digitised(simulation, 2.5, 997.0)[0], simulation, 0);
    EXPECT_NEAR(std::abs(line(lower, 1994.0)) / std::abs(line(lower, 997.0)), 0.8e-5, 1e-7);
}

TEST(SoundCardModel, NoiseIsTheStatedLevel) {
    Simulation simulation = clean_rig();
    simulation.card_noise = DbFs{-105.0};
    const auto x = volts(digitised(simulation, 0.0, 997.0)[0], simulation, 0);
    // White: flat to half the rate, of which the A-weighting passes a_weighted_bandwidth().
    const double expected =
        50.0 / std::numbers::sqrt2 * std::pow(10.0, -105.0 / 20.0) * white_sigma(1.0, 48000.0);
    EXPECT_NEAR(rms(x), expected, 4.0 * expected / std::sqrt(2.0 * 48000.0));
}

// First order, −3.01 dB at the corner.
TEST(SoundCardModel, CouplingFallsToHalfPowerAtItsCorner) {
    Simulation simulation = clean_rig();
    simulation.ac_corner = Hertz{5.0};
    const auto x = volts(digitised(simulation, 20.0, 5.0)[0], simulation, 0);
    EXPECT_NEAR(decibels(std::abs(line(x, 5.0)) / 20.0), -3.0103, 0.001);
}

// A source clock 25 ppm fast makes 10 kHz 10 000.25 Hz for the card: a quarter turn a second.
TEST(SoundCardModel, FastSourceClockRaisesTheFrequencyByItsPartsInAMillion) {
    Simulation simulation = clean_rig();
    simulation.source_clock_ppm = 25.0;
    Played played{simulation, 10000.0, drive_for(1.0)};
    const auto x = played.record(2.0);
    const std::vector<double> first(x[0].begin(), x[0].begin() + 48000);
    const std::vector<double> second(x[0].begin() + 48000, x[0].end());
    const double turned = std::arg(line(second, 10000.0) / line(first, 10000.0));
    EXPECT_NEAR(turned / (2.0 * std::numbers::pi), 0.25, 1e-4);
}

// A card that runs 100 ppm fast gives 100 ppm more frames in the same true time, so mains lines
// seem that much lower: 50 Hz by 5 mHz, under the wander; the world's clock shows it exactly.
TEST(SoundCardModel, FastCardTakesLessTrueTimeForItsFrames) {
    Simulation simulation = clean_rig();
    simulation.clock_ppm = 100.0;
    SimulatedWorld world{simulation};
    (void)world.record(Frames{480000});
    EXPECT_NEAR(world.now().in<Seconds>(), 10.0 / 1.0001, 1e-9);
}

}  // namespace
}  // namespace afterload::instruments
