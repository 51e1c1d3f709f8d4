#include "analysis/rating.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>

namespace afterload {
namespace {

using namespace afterload::literals;
using testing::AllOf;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

RatedFigure rated(FigureKind kind, Limit limit, Conditions conditions = {}, std::string id = {}) {
    RatedFigure figure;
    figure.figure = kind;
    figure.limit = limit;
    figure.conditions = std::move(conditions);
    figure.id = id.empty() ? std::string{name(kind)} : std::move(id);
    return figure;
}

Limit at_least(double value) {
    return {value, std::nullopt, std::nullopt};
}
Limit at_most(double value) {
    return {std::nullopt, value, std::nullopt};
}
Limit around(double value, double tolerance) {
    return {value - tolerance, value + tolerance, value};
}

bool speaks(const Conditions& of_rating, const Conditions& measured) {
    return applies(rated(FigureKind::thd, at_most(1e-3), of_rating), FigureKind::thd, measured);
}

Conditions at_frequency(double hertz) {
    Conditions conditions;
    conditions.frequency = Hertz{hertz};
    return conditions;
}

TEST(Rating, AnotherFigureIsNotMeant) {
    const RatedFigure power = rated(FigureKind::output_power, at_least(40.0));
    EXPECT_TRUE(applies(power, FigureKind::output_power, {}));
    EXPECT_FALSE(applies(power, FigureKind::short_term_power, {}));
}

TEST(Rating, FrequencyAgreesWithinTwoPercent) {
    EXPECT_TRUE(speaks(at_frequency(1000.0), at_frequency(997.0)));
    EXPECT_TRUE(speaks(at_frequency(20.0), at_frequency(19.7)));
    EXPECT_FALSE(speaks(at_frequency(1000.0), at_frequency(1030.0)));
    EXPECT_TRUE(speaks({}, at_frequency(333.0)));
    EXPECT_TRUE(speaks(at_frequency(1000.0), {}));
}

TEST(Rating, AToneInsideTheRatedRangeIsMeant) {
    Conditions range;
    range.tone_range = Band{20_Hz, 20_kHz};
    EXPECT_TRUE(speaks(range, at_frequency(997.0)));
    EXPECT_TRUE(speaks(range, at_frequency(19.7)));
    EXPECT_FALSE(speaks(range, at_frequency(18.0)));
    EXPECT_FALSE(speaks(range, at_frequency(22000.0)));
    Conditions swept;
    swept.tone_range = Band{10_Hz, 40_kHz};
    EXPECT_TRUE(speaks(range, swept));
    EXPECT_FALSE(speaks(swept, range));
    EXPECT_FALSE(speaks(at_frequency(1000.0), range));
}

TEST(Rating, LoadAgreesWithinFivePercent) {
    Conditions eight;
    eight.load = 8_ohm;
    Conditions near;
    near.load = Ohms{8.3};
    Conditions four;
    four.load = 4_ohm;
    EXPECT_TRUE(speaks(eight, near));
    EXPECT_FALSE(speaks(eight, four));
}

TEST(Rating, ASpeakerOutputMeansBothSets) {
    Conditions any;
    any.output = "speaker";
    Conditions a;
    a.output = "speaker_a";
    Conditions pre;
    pre.output = "pre_out";
    EXPECT_TRUE(speaks(any, a));
    EXPECT_FALSE(speaks(any, pre));
    EXPECT_FALSE(speaks(a, any));
}

TEST(Rating, TheRestMustBeEqual) {
    Conditions direct;
    direct.path = "direct";
    Conditions through_tone;
    through_tone.path = "tone";
    EXPECT_FALSE(speaks(direct, through_tone));
    Conditions one;
    one.channels_driven = Channels::left;
    Conditions both;
    both.channels_driven = Channels::both;
    EXPECT_FALSE(speaks(both, one));
    Conditions watt;
    watt.output_level = LevelTarget{LevelTarget::Kind::output_power, 1.0};
    Conditions near_watt;
    near_watt.output_level = LevelTarget{LevelTarget::Kind::output_power, 0.995};
    Conditions full;
    full.output_level = LevelTarget{};
    EXPECT_TRUE(speaks(watt, near_watt));
    EXPECT_FALSE(speaks(watt, full));
}

TEST(Rating, LongerDwellAndAnotherMainsAreStillMeant) {
    Conditions asked;
    asked.dwell = 60_s;
    asked.mains_voltage = 230.0;
    Conditions given;
    given.dwell = 90_s;
    given.mains_voltage = 224.0;
    EXPECT_TRUE(speaks(asked, given));
    given.dwell = 30_s;
    EXPECT_FALSE(speaks(asked, given));
    given.dwell = 60_s;
    given.mains_voltage = 120.0;
    EXPECT_FALSE(speaks(asked, given));
}

TEST(Rating, TheMetersWidthNeverPicksTheDistortionButPicksTheNoise) {
    Conditions wide;
    wide.bandwidth = Band{20_Hz, 80_kHz};
    Conditions card;
    card.bandwidth = Band{Hertz{997.0}, Hertz{21600.0}};
    EXPECT_TRUE(speaks(wide, card));
    EXPECT_FALSE(applies(rated(FigureKind::noise_voltage, at_most(1e-3), wide),
                         FigureKind::noise_voltage, card));
}

TEST(Rating, TheUnitsOwnFigureWinsOverTheHouse) {
    RatingSheet unit;
    unit.unit = UnitDescription{};
    unit.figures.push_back(rated(FigureKind::thd, at_most(5e-4), at_frequency(1000.0), "own"));
    RatingSheet house;
    house.figures.push_back(rated(FigureKind::thd, at_most(1e-3), at_frequency(1000.0), "thd_1k"));
    house.figures.push_back(
        rated(FigureKind::thd, at_most(2e-3), at_frequency(10000.0), "thd_10k"));
    house.figures.push_back(rated(FigureKind::dc_offset, around(0.0, 0.05), {}, "own"));
    const RatingSheet both = laid_under(unit, house);
    ASSERT_TRUE(both.unit.has_value());
    ASSERT_EQ(both.figures.size(), 3U);
    EXPECT_EQ(both.figures[0].origin, RatedFigure::Origin::maker);
    EXPECT_EQ(both.figures[1].id, "thd_10k");
    EXPECT_EQ(both.figures[1].origin, RatedFigure::Origin::house);
    EXPECT_EQ(both.figures[2].id, "own_house");
}

TEST(Rating, EveryNeededConditionIsAKeyOnceAFigure) {
    std::set<std::pair<FigureKind, std::string>> seen;
    for (const NeededCondition& needed : needed_conditions()) {
        EXPECT_THAT(condition_keys(), testing::Contains(std::string_view{needed.key}));
        EXPECT_TRUE(seen.insert({needed.figure, needed.key}).second)
            << name(needed.figure) << ' ' << needed.key;
        EXPECT_FALSE(needed.convention.empty());
        EXPECT_FALSE(needed.why.empty());
        EXPECT_GE(needed.spread_db, 0.0);
    }
}

std::vector<std::string> missing_keys(const RatedFigure& figure) {
    std::vector<std::string> keys;
    for (const NeededCondition& needed : missing_conditions(figure)) {
        keys.push_back(needed.key);
    }
    return keys;
}

TEST(Rating, WhatTheMakerLeftOutIsListed) {
    EXPECT_THAT(missing_keys(rated(FigureKind::signal_to_noise, at_least(90.0))),
                ElementsAre("weighting", "reference_level", "volume", "termination"));
    Conditions most;
    most.reference_level = LevelTarget{};
    most.volume = "maximum";
    most.termination = "shorted";
    EXPECT_THAT(missing_keys(rated(FigureKind::signal_to_noise, at_least(90.0), most)),
                ElementsAre("weighting"));
}

TEST(Rating, ARatedRangeStandsForTheFrequency) {
    Conditions range;
    range.load = 8_ohm;
    range.channels_driven = Channels::both;
    range.tone_range = Band{20_Hz, 20_kHz};
    EXPECT_THAT(missing_keys(rated(FigureKind::output_power, at_least(40.0), range)), IsEmpty());
}

TEST(Rating, TheHouseMeansWhatTheHouseMeasures) {
    RatedFigure house = rated(FigureKind::signal_to_noise, at_least(80.0));
    house.origin = RatedFigure::Origin::house;
    EXPECT_THAT(missing_keys(house), IsEmpty());
}

// The invented sheet of the trade facts: 40 W into 8 ohm, 150 mV line, 2.5 mV phono (common
// practice, no source: 41.5 dB to the speaker terminals, 35.6 dB of phono gain).
struct Sheet {
    RatingSheet sheet;

    Sheet() {
        Conditions eight;
        eight.load = 8_ohm;
        eight.channels_driven = Channels::both;
        sheet.figures.push_back(rated(FigureKind::output_power, at_least(40.0), eight, "power"));
        sheet.figures.push_back(
            rated(FigureKind::input_sensitivity, around(0.150, 0.01), input("line"), "line"));
        sheet.figures.push_back(
            rated(FigureKind::input_sensitivity, around(2.5e-3, 2e-4), input("phono"), "phono"));
    }

    static Conditions input(std::string which) {
        Conditions conditions;
        conditions.input = std::move(which);
        return conditions;
    }

    void add_gain(double decibels, std::string which, std::optional<std::string> output) {
        Conditions conditions = input(std::move(which));
        conditions.output = std::move(output);
        sheet.figures.push_back(rated(FigureKind::gain, around(decibels, 0.5), conditions, "gain"));
    }

    void add_volts(double volts, Ohms load) {
        Conditions conditions;
        conditions.load = load;
        sheet.figures.push_back(
            rated(FigureKind::output_voltage, at_least(volts), conditions, "volts"));
    }
};

TEST(Rating, ASheetThatAgreesWithItselfHasNoContradictions) {
    Sheet agreed;
    agreed.add_gain(41.5, "line", std::nullopt);
    agreed.add_gain(35.6, "phono", "tape_out");
    agreed.add_gain(77.1, "phono", "speaker");
    agreed.add_volts(17.9, 8_ohm);
    agreed.add_volts(13.0, 4_ohm);  // no power is rated into 4 ohm
    EXPECT_THAT(contradictions(agreed.sheet), IsEmpty());
}

TEST(Rating, PowerThatDoesNotFollowFromVoltsIsNamedWithBothNumbers) {
    Sheet wrong;
    wrong.add_volts(20.0, 8_ohm);
    EXPECT_THAT(contradictions(wrong.sheet),
                ElementsAre(AllOf(HasSubstr("40 W"), HasSubstr("20 V"), HasSubstr("50 W"),
                                  HasSubstr("power"), HasSubstr("volts"))));
}

TEST(Rating, GainThatDoesNotFollowFromSensitivityIsNamedWithBothNumbers) {
    Sheet wrong;
    wrong.add_gain(46.0, "line", "speaker");
    EXPECT_THAT(contradictions(wrong.sheet),
                ElementsAre(AllOf(HasSubstr("46 dB"), HasSubstr("150 mV"), HasSubstr("40 W"),
                                  HasSubstr("41.53 dB"))));
}

TEST(Rating, PhonoGainThatDoesNotFollowFromTheSensitivitiesIsNamed) {
    Sheet wrong;
    wrong.add_gain(40.0, "phono", "tape_out");
    EXPECT_THAT(contradictions(wrong.sheet),
                ElementsAre(AllOf(HasSubstr("40 dB"), HasSubstr("150 mV"), HasSubstr("2.5 mV"),
                                  HasSubstr("35.56 dB"))));
}

TEST(Rating, ASensitivityForOneWattIsNotTakenForRatedOutput) {
    // 2.828 V for 25 mV is 41.07 dB, as well.
    Sheet sheet;
    sheet.sheet.figures[1].limit = around(0.025, 0.001);
    sheet.sheet.figures[1].conditions.output_level =
        LevelTarget{LevelTarget::Kind::output_power, 1.0};
    sheet.add_gain(41.0, "line", std::nullopt);
    EXPECT_THAT(contradictions(sheet.sheet), IsEmpty());
    sheet.sheet.figures[1].conditions.output_level = LevelTarget{};
    EXPECT_THAT(contradictions(sheet.sheet), ElementsAre(HasSubstr("25 mV")));
}

}  // namespace
}  // namespace afterload
