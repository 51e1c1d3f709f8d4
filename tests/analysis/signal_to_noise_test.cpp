#include "analysis/measure_signal_to_noise.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <string>

namespace afterload::analysis {
namespace {

using namespace literals;
using Kind = LevelTarget::Kind;
using testing::HasSubstr;

Figure half_a_millivolt() {
    Figure noise;
    noise.kind = FigureKind::noise_voltage;
    noise.value = 0.5e-3;
    noise.budget = {{"record noise", BudgetLine::Kind::noise, 5e-6}};
    noise.rig_added = 0.0;
    noise.rig_cancelled = 0.0;
    noise.conditions.weighting = Weighting::a;
    noise.conditions.bandwidth = Band{20_Hz, 20_kHz};
    noise.conditions.volume = "maximum";
    noise.conditions.termination = "shorted";
    return noise;
}

SignalReference reference(Kind kind, double value, double rated = 40.0, double gain = 100.0) {
    const auto found = signal_reference({kind, value}, 8_ohm, Watts{rated}, AmplitudeRatio{gain});
    if (!found) {
        ADD_FAILURE() << found.error().what;
        return {};
    }
    return *found;
}

double detail(const Figure& figure, const std::string& wanted) {
    for (const auto& [name, value] : figure.details) {
        if (name == wanted) {
            return value;
        }
    }
    ADD_FAILURE() << "no detail " << wanted;
    return 0.0;
}

// 10 lg of the ratio of powers, rounded to a tenth: re rated less re 1 W, and less re 50 mW
// (computed).
TEST(SignalToNoise, RatedOutputConvertsToOneWattAndToFiftyMilliwatts) {
    struct Row {
        double rated;
        double one_watt;
        double fifty_milliwatts;
    };
    for (const Row& row : {Row{20, 13.0, 26.0}, Row{40, 16.0, 29.0}, Row{60, 17.8, 30.8},
                           Row{100, 20.0, 33.0}, Row{120, 20.8, 33.8}}) {
        const Figure rated =
            signal_to_noise(half_a_millivolt(), reference(Kind::rated_fraction, 1.0, row.rated));
        const Figure one = converted(rated, reference(Kind::output_power, 1.0), {});
        const Figure little = converted(rated, reference(Kind::output_power, 0.05), {});
        EXPECT_NEAR(*rated.value - *one.value, row.one_watt, 0.05) << row.rated;
        EXPECT_NEAR(*rated.value - *little.value, row.fifty_milliwatts, 0.05) << row.rated;
        EXPECT_NEAR(detail(one, "conversion"), -row.one_watt, 0.05);
        EXPECT_NEAR(detail(one, "converted_from"), std::sqrt(8.0 * row.rated), 1e-9);
        EXPECT_NEAR(detail(one, "reference"), std::sqrt(8.0), 1e-12);
        EXPECT_EQ(combined(one.budget), combined(rated.budget));
        EXPECT_EQ(one.conditions.reference_level, (LevelTarget{Kind::output_power, 1.0}));
    }
}

// The same noise in 8 ohm: 62.04 dB re 50 mW, 75.05 dB re 1 W, 95.05 dB re 100 W (computed).
TEST(SignalToNoise, ConvertedIsWhatWouldHaveBeenMeasured) {
    const Figure first = signal_to_noise(half_a_millivolt(), reference(Kind::output_power, 0.05));
    EXPECT_NEAR(*first.value, 62.04, 0.005);
    EXPECT_NEAR(*converted(first, reference(Kind::output_power, 1.0), {}).value, 75.05, 0.005);
    EXPECT_NEAR(*converted(first, reference(Kind::output_power, 100.0), {}).value, 95.05, 0.005);
}

// Phono: 2.5 mV to 5 mV is 6.0 dB, to 10 mV 12.0 dB, whatever the gain (computed).
TEST(SignalToNoise, InputReferencesConvertWhateverTheGain) {
    for (const double gain : {60.0, 4000.0}) {
        const Figure ratio =
            signal_to_noise(half_a_millivolt(), reference(Kind::drive_volts, 2.5e-3, 40.0, gain));
        EXPECT_NEAR(*converted(ratio, reference(Kind::drive_volts, 5e-3, 40.0, gain), {}).value -
                        *ratio.value,
                    6.0, 0.05);
        EXPECT_NEAR(*converted(ratio, reference(Kind::drive_volts, 10e-3, 40.0, gain), {}).value -
                        *ratio.value,
                    12.0, 0.05);
    }
    // 0.5 V at a line input with a gain of 10 is 5 V at the output: 80 dB over half a millivolt.
    EXPECT_NEAR(
        *signal_to_noise(half_a_millivolt(), reference(Kind::drive_volts, 0.5, 40.0, 10.0)).value,
        80.0, 1e-9);
}

// GUM 5.2.2 with r = 1: an error that both voltages share leaves their ratio alone.
TEST(SignalToNoise, WhatGainAndNoiseShareCancelsAndTheRestAddsUp) {
    Figure noise = half_a_millivolt();
    noise.budget.push_back({"range low", BudgetLine::Kind::systematic, 2.5e-6});  // 0.5 %
    SignalReference to = reference(Kind::drive_volts, 0.5);
    const double half_per_cent_db = 0.005 * 20.0 / std::log(10.0);
    to.budget = {{"range low", BudgetLine::Kind::systematic, half_per_cent_db},
                 {"source level", BudgetLine::Kind::systematic, 0.035}};
    const Figure ratio = signal_to_noise(noise, to);
    const double record_noise_db = 0.01 * 20.0 / std::log(10.0);
    EXPECT_NEAR(combined(ratio.budget), std::hypot(0.035, record_noise_db), 1e-9);
}

TEST(SignalToNoise, IsNotConvertedWhereTheNoiseItselfWouldChange) {
    const Figure ratio = signal_to_noise(half_a_millivolt(), reference(Kind::rated_fraction, 1.0));
    const SignalReference one_watt = reference(Kind::output_power, 1.0);
    Conditions same;
    same.volume = "maximum";
    same.termination = "shorted";
    same.weighting = Weighting::a;
    EXPECT_TRUE(converted(ratio, one_watt, same).value);

    Conditions volume = same;
    volume.volume = "set for 1 W";
    Conditions weighting = same;
    weighting.weighting = Weighting::itu_r_468;
    Conditions detector = same;
    detector.detector = Detector::quasi_peak;
    Conditions termination = same;
    termination.termination = "1 kohm";
    Conditions bandwidth = same;
    bandwidth.bandwidth = Band{Hertz{22.4}, Hertz{22400.0}};
    const std::pair<Conditions, const char*> each[] = {{volume, "volume"},
                                                       {weighting, "weighting"},
                                                       {detector, "detector"},
                                                       {termination, "termination"},
                                                       {bandwidth, "bandwidth"}};
    for (const auto& [wanted, word] : each) {
        const Figure none = converted(ratio, one_watt, wanted);
        EXPECT_FALSE(none.value) << word;
        EXPECT_THAT(none.unresolved, HasSubstr(word));
        EXPECT_THAT(none.unresolved, HasSubstr("noise itself changes"));
    }
}

TEST(SignalToNoise, ABoundIsConvertedAsABound) {
    Figure noise = half_a_millivolt();
    noise.bound = Bound{1e-3, Bound::Side::at_most};
    noise.details.emplace_back("reading", 0.5e-3);
    noise.value.reset();
    const Figure ratio = signal_to_noise(noise, reference(Kind::output_power, 100.0));
    const Figure less = converted(ratio, reference(Kind::output_power, 1.0), {});
    ASSERT_TRUE(less.bound);
    EXPECT_EQ(less.bound->side, Bound::Side::at_least);
    EXPECT_NEAR(less.bound->value, ratio.bound->value - 20.0, 1e-9);
    EXPECT_FALSE(less.value);
}

TEST(SignalToNoise, AReferenceSaysWhatElseMustBeKnown) {
    EXPECT_THAT(signal_reference({Kind::output_power, 1.0}, {}, {}, {}).error().what,
                HasSubstr("load"));
    EXPECT_THAT(signal_reference({Kind::rated_fraction, 1.0}, 8_ohm, {}, {}).error().what,
                HasSubstr("rated power"));
    EXPECT_THAT(signal_reference({Kind::drive_volts, 5e-3}, 8_ohm, {}, {}).error().what,
                HasSubstr("gain"));
    EXPECT_FALSE(signal_reference({Kind::drive_dbfs, -20.0}, 8_ohm, 40_W, AmplitudeRatio{1.0}));
}

}  // namespace
}  // namespace afterload::analysis
