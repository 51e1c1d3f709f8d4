#include "sequences/rating_reader.hpp"

#include "sequences/condition_keys.hpp"
#include "tests/sequences/file_text.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>

namespace afterload::sequences {
namespace {

RatingSheet read(const std::string& text) {
    auto sheet = read_rating(text, "test.rating.yaml");
    EXPECT_TRUE(sheet.has_value()) << (sheet ? "" : afterload::sequences::text(sheet.error()));
    return sheet.value_or(RatingSheet{});
}

const RatedFigure& figure_called(const RatingSheet& sheet, std::string_view id) {
    const auto found = std::find_if(sheet.figures.begin(), sheet.figures.end(),
                                    [id](const RatedFigure& rated) { return rated.id == id; });
    EXPECT_NE(found, sheet.figures.end()) << id;
    return *found;
}

std::string house(const std::string& figures) {
    return "afterload: rating/1\nhouse: true\nfigures:\n" + figures;
}

TEST(RatingReader, ReadsTheSheetOfAnInventedUnit) {
    const std::filesystem::path path = source_path("fixtures/units/hollinfay-h40.rating.yaml");
    const RatingSheet sheet = read(file_text(path));
    ASSERT_TRUE(sheet.unit.has_value());
    EXPECT_EQ(sheet.unit->maker, "Hollinfay");
    EXPECT_EQ(sheet.unit->channels, 2);
    EXPECT_FALSE(sheet.unit->bridged);
    EXPECT_EQ(sheet.unit->mains_voltage.value_or(0.0), 230.0);
    const RatedFigure& power = figure_called(sheet, "power");
    EXPECT_EQ(power.figure, FigureKind::output_power);
    EXPECT_EQ(power.limit.at_least.value_or(0.0), 40.0);
    EXPECT_FALSE(power.limit.at_most.has_value());
    EXPECT_EQ(power.source, "page 3");
    EXPECT_EQ(power.origin, RatedFigure::Origin::maker);
    EXPECT_EQ(power.conditions.load, Ohms{8.0});
    EXPECT_EQ(power.conditions.channels_driven, Channels::both);
    EXPECT_DOUBLE_EQ(power.conditions.thd.value_or(0.0), 0.001);
    EXPECT_EQ(power.conditions.tone_range, (Band{Hertz{20.0}, Hertz{20e3}}));
    const RatedFigure& gain = figure_called(sheet, "gain");
    EXPECT_DOUBLE_EQ(gain.limit.nominal.value_or(0.0), 41.5);
    EXPECT_DOUBLE_EQ(gain.limit.at_least.value_or(0.0), 40.0);
    EXPECT_DOUBLE_EQ(gain.limit.at_most.value_or(0.0), 43.0);
    const RatedFigure& response = figure_called(sheet, "response");
    EXPECT_DOUBLE_EQ(response.limit.at_least.value_or(0.0), -1.0);
    EXPECT_DOUBLE_EQ(response.limit.at_most.value_or(0.0), 0.5);
}

TEST(RatingReader, EachUnitLeavesOneConditionOfItsSignalToNoiseUnstated) {
    const RatingSheet h40 =
        read(file_text(source_path("fixtures/units/hollinfay-h40.rating.yaml")));
    const auto h40_missing = missing_conditions(figure_called(h40, "signal_to_noise"));
    ASSERT_EQ(h40_missing.size(), 1U);
    EXPECT_EQ(h40_missing[0].key, "weighting");
    const RatingSheet s60 = read(file_text(source_path("fixtures/units/tarnbeck-s60.rating.yaml")));
    const auto s60_missing = missing_conditions(figure_called(s60, "signal_to_noise"));
    ASSERT_EQ(s60_missing.size(), 1U);
    EXPECT_EQ(s60_missing[0].key, "reference_level");
}

TEST(RatingReader, SheetsOfTheInventedUnitsDoNotContradictThemselves) {
    for (const auto& path : files_of("fixtures/units", ".rating.yaml")) {
        for (const std::string& doubt : contradictions(read(file_text(path)))) {
            ADD_FAILURE() << path << ": " << doubt;
        }
    }
}

TEST(RatingReader, HouseFiguresAreOfTheHouseByRule) {
    const RatingSheet sheet = read(file_text(source_path("fixtures/house.rating.yaml")));
    EXPECT_FALSE(sheet.unit.has_value());
    for (const RatedFigure& rated : sheet.figures) {
        EXPECT_EQ(rated.origin, RatedFigure::Origin::house) << rated.id;
        EXPECT_EQ(rated.source, "house rule") << rated.id;
    }
    const RatedFigure& offset = figure_called(sheet, "house_offset");
    EXPECT_DOUBLE_EQ(offset.limit.at_least.value_or(0.0), -0.05);
    EXPECT_DOUBLE_EQ(offset.warn.value_or(Limit{}).at_most.value_or(0.0), 0.03);
}

TEST(RatingReader, ToleranceMayBeInPerCentOfTheNominalValue) {
    const RatingSheet sheet =
        read(house("  - {figure: supply_rail, nominal: 40 V, tolerance: 5 %}\n"));
    EXPECT_DOUBLE_EQ(sheet.figures[0].limit.at_least.value_or(0.0), 38.0);
    EXPECT_DOUBLE_EQ(sheet.figures[0].limit.at_most.value_or(0.0), 42.0);
}

TEST(RatingReader, DampingFactorHasNoUnit) {
    const RatingSheet sheet = read(house("  - {figure: damping_factor, at_least: 50}\n"));
    EXPECT_EQ(sheet.figures[0].limit.at_least.value_or(0.0), 50.0);
    EXPECT_FALSE(
        read_rating(house("  - {figure: damping_factor, at_least: 50 ohm}\n"), "a").has_value());
}

TEST(RatingReader, MakesAnIdFromFigureAndConditionsWhereNoneIsWritten) {
    const RatingSheet sheet = read(
        house("  - {figure: thd, at_most: 1 %, output_level: 1 W, frequency: 1 kHz}\n"
              "  - {figure: thd, at_most: 1 %, output_level: 1 W, frequency: 1 kHz, path: tone}\n"
              "  - {figure: thd, at_most: 2 %, output_level: 1 W, frequency: 1 kHz}\n"));
    EXPECT_EQ(sheet.figures[0].id, "thd_1W_1kHz");
    EXPECT_EQ(sheet.figures[1].id, "thd_1W_1kHz_tone");
    EXPECT_EQ(sheet.figures[2].id, "thd_1W_1kHz_2");
}

TEST(RatingReader, KnowsEveryConditionOfTheVocabularyByItsName) {
    std::vector<std::string_view> names;
    for (const ConditionKey& key : condition_key_table()) {
        names.push_back(key.name);
    }
    EXPECT_EQ(names, condition_keys());
}

TEST(RatingReader, EveryConditionIsStatedOnceItIsRead) {
    const std::string all =
        "  - figure: output_power\n    at_least: 40 W\n    load: 8 ohm\n    channels_driven: both\n"
        "    output_level: rated\n    frequency: 1 kHz\n    tone_range: 20 Hz..20 kHz\n"
        "    bandwidth: 20 Hz..80 kHz\n    weighting: ITU-R 468\n"
        "    detector: quasi-peak\n    reference_level: 1 W\n"
        "    reference_frequency: 1 kHz\n    highest_order: 9\n    thd: 0.1 %\n    fall: -3 dB\n"
        "    input: line\n    output: speaker\n    path: direct\n    source_impedance: 600 ohm\n"
        "    termination: shorted\n    volume: maximum\n    tone_controls: flat\n"
        "    curve: 3180/318/75 us\n    signal: multitone\n"
        "    mains_voltage: 230 V\n    warm_up: 20 min\n    preconditioning: an hour at 1/8 rated\n"
        "    ambient: 25 degC\n    dwell: 10 min\n";
    const RatingSheet sheet = read(house(all));
    for (const std::string_view key : condition_keys()) {
        EXPECT_TRUE(stated(sheet.figures.at(0).conditions, key)) << key;
    }
}

TEST(RatingReader, PassesOverKeysOfTheWriter) {
    const RatingSheet sheet = read(house("  - {figure: thd, at_most: 1 %, x-note: mine}\n"));
    EXPECT_EQ(sheet.figures.size(), 1U);
}

TEST(RatingReader, FindsEveryMistakeInOnePass) {
    const auto sheet = read_rating(
        "afterload: rating/1\ntitel: a\nunit: {maker: A, model: B, inputs: line, outputs: [x], "
        "output_terminals: comon}\nfigures:\n  - {figure: thd, at_most: 1, source: p}\n"
        "  - {figure: tdh, at_most: 1 %, source: p}\n",
        "a");
    ASSERT_FALSE(sheet.has_value());
    EXPECT_EQ(sheet.error().count(), 5U) << text(sheet.error());
}

}  // namespace
}  // namespace afterload::sequences
