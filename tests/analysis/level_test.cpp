#include "analysis/level.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace afterload {
namespace {

using namespace afterload::literals;

TEST(Level, ReferencesStandWhereTheyAreDefined) {
    // 0 dBu = √0.6 V, 0 dBV = 1 V, apart by 2.2184875 dB.
    EXPECT_NEAR(voltage_at(DbU{0.0}).in<VoltsRms>(), 0.7745966692, 5e-11);
    EXPECT_DOUBLE_EQ(voltage_at(DbV{0.0}).in<VoltsRms>(), 1.0);
    EXPECT_NEAR(level_dbu(1_Vrms).decibels(), 2.2184875, 5e-8);
    EXPECT_DOUBLE_EQ(power_at(DbW{10.0}).in<Watts>(), 10.0);
    EXPECT_NEAR(level_dbw(40_W).decibels(), 16.0206, 5e-5);
}

TEST(Level, FullScaleIsASineNotASquare) {
    // AES17: 0 dBFS is the rms of a sine whose peak is full scale.
    EXPECT_NEAR(voltage_at(DbFs{0.0}, 1_Vpeak).in<VoltsRms>(), 0.70710678, 5e-9);
    EXPECT_NEAR(voltage_at(DbFs{3.0103}, 1_Vpeak).in<VoltsRms>(), 1.0, 5e-6);
}

TEST(Level, AmplitudesTakeTwentyAndPowersTen) {
    EXPECT_NEAR(gain_of(AmplitudeRatio{0.01}).decibels(), -40.0, 1e-12);
    EXPECT_NEAR(gain_of(PowerRatio{0.01}).decibels(), -20.0, 1e-12);
    EXPECT_NEAR(amplitude_ratio(Gain{-60.0}).in<AmplitudeRatio>(), 1e-3, 1e-15);
    EXPECT_NEAR(power_ratio(Gain{-60.0}).in<PowerRatio>(), 1e-6, 1e-18);
}

TEST(Level, SilenceHasNoLevel) {
    EXPECT_EQ(level_dbv(VoltsRms{0.0}).decibels(), -std::numeric_limits<double>::infinity());
    EXPECT_EQ(gain_of(PowerRatio{0.0}).decibels(), -std::numeric_limits<double>::infinity());
}

TEST(Level, SensitivitiesImplyGains) {
    // Common practice of the trade, no source: 150 mV on the line input and 2.5 mV on the phono
    // input for a rated 40 W into 8 ohm imply 41.5 dB to the speaker terminals and 35.6 dB of phono
    // gain.
    const VoltsRms rated = voltage_for(40_W, 8_ohm);
    EXPECT_NEAR(gain_of(AmplitudeRatio{rated / VoltsRms{0.150}}).decibels(), 41.5, 0.05);
    EXPECT_NEAR(gain_of(AmplitudeRatio{VoltsRms{0.150} / VoltsRms{2.5e-3}}).decibels(), 35.6, 0.05);
}

// A source of `source` ohms into `load`, against the same source into nothing.
Gain loss_into(Ohms source, Ohms load) {
    return gain_of(AmplitudeRatio{load / (load + source)});
}

TEST(Level, APreOutLosesWhatItsResistorAndTheInputMake) {
    // Common practice, no source: 1 V behind 470 ohm loses 0.40 dB into 10 kohm, 0.09 dB into 47
    // kohm.
    EXPECT_NEAR(loss_into(470_ohm, 10000_ohm).decibels(), -0.40, 0.005);
    EXPECT_NEAR(loss_into(470_ohm, 47000_ohm).decibels(), -0.09, 0.005);
}

TEST(Level, ALowSupplyOfTheToneStageClipsNineDecibelsEarlier) {
    // Common practice, no source: stages on rails of 18 V that stand at 7.5 V, with 1.5 V lost to
    // each, clip 8.8 dB earlier.
    const VoltsPeak lost = 1.5_Vpeak;
    const AmplitudeRatio left{(7.5_Vpeak - lost) / (18_Vpeak - lost)};
    EXPECT_NEAR(gain_of(left).decibels(), -8.8, 0.05);
}

TEST(Level, LevelsAndGainsAddUp) {
    EXPECT_DOUBLE_EQ((DbV{-10.0} + Gain{6.0}).decibels(), -4.0);
    EXPECT_DOUBLE_EQ((Gain{6.0} + DbV{-10.0}).decibels(), -4.0);
    EXPECT_DOUBLE_EQ((DbV{-10.0} - DbV{-16.0}).decibels(), 6.0);
    EXPECT_DOUBLE_EQ((DbFs{-1.0} - Gain{2.0}).decibels(), -3.0);
}

}  // namespace
}  // namespace afterload
