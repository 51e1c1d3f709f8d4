// Controls of the simulated unit that are easily left in the wrong place.
#include "instruments/unit_controls.hpp"
#include "tests/instruments/probe.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <stdexcept>
#include <string_view>

namespace afterload::instruments {
namespace {

using namespace probe;

/// Levels at the terminals in dB, left and right, with one control as stated.
std::array<double, 2> levels(std::string_view control, std::string_view position, double hertz,
                             std::string_view volume = "maximum") {
    UnitControls controls;
    EXPECT_TRUE(turn(controls, "volume", volume));
    if (!control.empty()) {
        EXPECT_TRUE(turn(controls, control, position)) << control;
    }
    Played played{clean_rig(), hertz, drive_for(0.5), controls};
    const auto volts = played.record();
    return {decibels(rms_of_line(volts[0], hertz)), decibels(rms_of_line(volts[1], hertz))};
}

/// What the control changes at a frequency, left.
double change(std::string_view control, std::string_view position, double hertz,
              std::string_view volume = "maximum") {
    return levels(control, position, hertz, volume)[0] - levels("", "", hertz, volume)[0];
}

TEST(Controls, RumbleFilterIsThreeDecibelsDownAtTwentyHertz) {
    EXPECT_NEAR(change("rumble_filter", "in", 20.0), -3.0, 0.1);
    EXPECT_NEAR(change("rumble_filter", "in", 997.0), 0.0, 0.02);
}

TEST(Controls, HighFilterIsThreeDecibelsDownAtSevenKilohertz) {
    EXPECT_NEAR(change("high_filter", "in", 7000.0), -3.0, 0.1);
    EXPECT_NEAR(change("high_filter", "in", 100.0), 0.0, 0.02);
}

TEST(Controls, LoudnessLiftsTheBassOfALowVolumeAndNothingAtMaximum) {
    EXPECT_NEAR(change("loudness", "in", 50.0, "-30 dB"), 8.0, 0.3);
    EXPECT_NEAR(change("loudness", "in", 50.0), 0.0, 0.01);
}

TEST(Controls, MutingTakesTwentyDecibels) {
    EXPECT_NEAR(change("muting", "in", 997.0), -20.0, 0.05);
}

TEST(Controls, BalanceTakesFromOneChannelTheSameAtAllFrequencies) {
    for (const double hertz : {50.0, 997.0, 10000.0}) {
        const auto without = levels("", "", hertz);
        const auto with = levels("balance", "3 dB", hertz);
        EXPECT_NEAR(with[0] - without[0], -3.0, 0.02) << hertz;
        EXPECT_NEAR(with[1] - without[1], 0.0, 0.02) << hertz;
    }
}

TEST(Controls, MonoMakesBothChannelsAlike) {
    UnitControls controls;
    controls.mono = true;
    const Simulation simulation = clean_rig();
    Played played{simulation, 997.0, drive_for(0.5), controls};
    played.world.play(tone(Hertz{997.0}, VoltsRms{drive_for(0.5)}, true, false));
    played.world.advance(Seconds{1.0});
    const auto samples = played.world.record(Frames{48000});
    const double left = rms_of_line(volts(samples[0], simulation, 0), 997.0);
    const double right = rms_of_line(volts(samples[1], simulation, 0), 997.0);
    EXPECT_NEAR(decibels(left / right), 0.0, 0.5);
}

TEST(Controls, TapeMonitorAndAnOpenJumperLetNothingThrough) {
    EXPECT_LT(change("tape_monitor", "in", 997.0), -70.0);
    const auto without = levels("", "", 997.0);
    const auto with = levels("jumpers", "right out", 997.0);
    EXPECT_NEAR(with[0], without[0], 0.02);
    EXPECT_LT(with[1] - without[1], -60.0);
}

TEST(Controls, ASecondPairOfLoadsCostsAFewHundredthsOfADecibel) {
    const double lost = change("speakers", "A+B", 997.0);
    EXPECT_LT(lost, -0.01);
    EXPECT_GT(lost, -0.08);
}

TEST(Controls, WhatWasLeftWrongStaysThereWhateverIsAsked) {
    Simulation simulation = clean_rig();
    simulation.left_wrong = {{"muting", "in"}};
    UnitControls asked;
    ASSERT_TRUE(turn(asked, "muting", "out"));
    Played played{simulation, 997.0, drive_for(0.5), asked};
    const double muted = decibels(rms_of_line(played.record()[0], 997.0));
    EXPECT_NEAR(muted - levels("", "", 997.0)[0], -20.0, 0.05);
}

TEST(Controls, AControlThatTheUnitHasNotIsRefused) {
    Simulation simulation = clean_rig();
    simulation.left_wrong = {{"muting", "half way"}};
    EXPECT_THROW(SimulatedWorld{simulation}, std::invalid_argument);
}

}  // namespace
}  // namespace afterload::instruments
