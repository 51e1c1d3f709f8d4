#include "analysis/conditions.hpp"

#include "analysis/capture_fault.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace afterload {
namespace {

using namespace afterload::literals;

std::string written(LevelTarget::Kind kind, double value) {
    return text(LevelTarget{kind, value});
}

TEST(Conditions, ALevelReadsAsAFrontPanelPrintsIt) {
    using enum LevelTarget::Kind;
    EXPECT_EQ(written(output_power, 1.0), "1 W");
    EXPECT_EQ(written(output_power, 0.05), "50 mW");
    EXPECT_EQ(written(output_power, 40.0), "40 W");
    EXPECT_EQ(written(drive_volts, 0.5), "0.5 V");
    EXPECT_EQ(written(drive_volts, 0.0025), "2.5 mV");
    EXPECT_EQ(written(drive_volts, 2e-6), "2 uV");
    EXPECT_EQ(written(output_volts, 1.0), "1 V");
    EXPECT_EQ(written(drive_dbfs, -20.0), "-20 dBFS");
    EXPECT_EQ(written(output_power, 0.0), "0 W");
}

TEST(Conditions, AShareOfRatedReadsAsAFractionOrInDecibels) {
    using enum LevelTarget::Kind;
    EXPECT_EQ(written(rated_fraction, 1.0), "rated");
    EXPECT_EQ(written(rated_fraction, 0.125), "1/8 rated");
    EXPECT_EQ(written(rated_fraction, 1.0 / 3.0), "1/3 rated");
    EXPECT_EQ(written(rated_fraction, power_ratio(Gain{-3.0}).in<PowerRatio>()), "rated - 3 dB");
    EXPECT_EQ(written(rated_fraction, power_ratio(Gain{1.0}).in<PowerRatio>()), "rated + 1 dB");
}

TEST(Conditions, KeysAreThoseOfTheContract) {
    EXPECT_THAT(condition_keys(),
                testing::ElementsAre(
                    "load", "channels_driven", "output_level", "frequency", "tone_range",
                    "bandwidth", "weighting", "detector", "reference_level", "reference_frequency",
                    "highest_order", "thd", "fall", "input", "output", "path", "source_impedance",
                    "termination", "volume", "tone_controls", "curve", "mains_voltage", "warm_up",
                    "preconditioning", "ambient", "dwell", "signal"));
}

TEST(Conditions, NothingIsStatedToBeginWith) {
    for (const std::string_view key : condition_keys()) {
        EXPECT_FALSE(stated(Conditions{}, key)) << key;
    }
}

TEST(Conditions, EachFieldStatesItsOwnKeyAndNoOther) {
    // One condition at a time, in the order of the keys.
    std::vector<Conditions> one(condition_keys().size());
    one[0].load = 8_ohm;
    one[1].channels_driven = Channels::both;
    one[2].output_level = LevelTarget{};
    one[3].frequency = 1_kHz;
    one[4].tone_range = Band{20_Hz, 20_kHz};
    one[5].bandwidth = Band{20_Hz, 20_kHz};
    one[6].weighting = Weighting::a;
    one[7].detector = Detector::quasi_peak;
    one[8].reference_level = LevelTarget{};
    one[9].reference_frequency = 1_kHz;
    one[10].highest_order = 9;
    one[11].thd = 0.001;
    one[12].fall = Gain{-3.0};
    one[13].input = "line";
    one[14].output = "speaker";
    one[15].path = "direct";
    one[16].source_impedance = 600_ohm;
    one[17].termination = "shorted";
    one[18].volume = "maximum";
    one[19].tone_controls = "flat";
    one[20].curve = "3180/318/75 us";
    one[21].mains_voltage = 230.0;
    one[22].warm_up = 1200_s;
    one[23].preconditioning = "1 h at 1/8 rated";
    one[24].ambient = Celsius{25.0};
    one[25].dwell = 60_s;
    one[26].signal = "multitone";
    for (std::size_t i = 0; i < one.size(); ++i) {
        for (std::size_t k = 0; k < one.size(); ++k) {
            EXPECT_EQ(stated(one[i], condition_keys()[k]), i == k)
                << condition_keys()[i] << " as " << condition_keys()[k];
        }
    }
}

TEST(Conditions, WordsOfTheFilesAreFixed) {
    EXPECT_EQ(name(Channels::left), "left");
    EXPECT_EQ(name(Channels::right), "right");
    EXPECT_EQ(name(Channels::both), "both");
    EXPECT_EQ(name(Weighting::unweighted), "none");
    EXPECT_EQ(name(Weighting::a), "A");
    EXPECT_EQ(name(Weighting::itu_r_468), "ITU-R 468");
    EXPECT_EQ(name(Detector::rms), "rms");
    EXPECT_EQ(name(Detector::quasi_peak), "quasi-peak");
}

TEST(CaptureFault, NamesAreThoseOfTheDocuments) {
    using enum CaptureFaultKind;
    std::vector<std::string_view> names;
    for (const CaptureFaultKind kind :
         {gap, repeat, clipped, unsettled, too_short, silent, wrong_rate, not_finite}) {
        names.push_back(name(kind));
    }
    EXPECT_THAT(names, testing::ElementsAre("gap", "repeat", "clipped", "unsettled", "short",
                                            "silent", "wrong_rate", "not_finite"));
}

}  // namespace
}  // namespace afterload
