#include "sequences/review.hpp"

#include <gtest/gtest.h>

namespace afterload::sequences {
namespace {

RatedFigure power(const char* id, double watts, std::optional<Ohms> load,
                  std::optional<Channels> driven) {
    RatedFigure rated;
    rated.id = id;
    rated.figure = FigureKind::output_power;
    rated.limit.at_least = watts;
    rated.conditions.load = load;
    rated.conditions.channels_driven = driven;
    return rated;
}

TEST(RatedPower, IsTheRatingOfTheLoadAndTheChannelsDriven) {
    RatingSheet sheet;
    sheet.figures = {power("eight", 40.0, Ohms{8.0}, Channels::both),
                     power("four", 55.0, Ohms{4.0}, Channels::both)};
    EXPECT_EQ(rated_power(sheet, Ohms{8.02}, Channels::both).value_or(RatedPower{}).id, "eight");
    EXPECT_EQ(rated_power(sheet, Ohms{4.1}, Channels::both).value_or(RatedPower{}).power,
              Watts{55.0});
}

TEST(RatedPower, NoneFitsALoadSixPerCentOff) {
    RatingSheet sheet;
    sheet.figures = {power("eight", 40.0, Ohms{8.0}, Channels::both)};
    const auto rated = rated_power(sheet, Ohms{8.48}, Channels::both);
    ASSERT_FALSE(rated.has_value());
    EXPECT_EQ(rated.error().why, NoRatedPower::Why::none_fits);
    EXPECT_TRUE(rated_power(sheet, Ohms{8.35}, Channels::both).has_value());
}

TEST(RatedPower, TwoThatFitAreNamed) {
    RatingSheet sheet;
    sheet.figures = {power("wide", 40.0, Ohms{8.0}, Channels::both),
                     power("narrow", 44.0, Ohms{8.0}, Channels::both)};
    const auto rated = rated_power(sheet, Ohms{8.0}, Channels::both);
    ASSERT_FALSE(rated.has_value());
    EXPECT_EQ(rated.error().why, NoRatedPower::Why::several_fit);
    EXPECT_EQ(rated.error().ids, (std::vector<std::string>{"wide", "narrow"}));
}

TEST(RatedPower, TwoThatStateTheSamePowerAreOne) {
    RatingSheet sheet;
    sheet.figures = {power("wide", 40.0, Ohms{8.0}, Channels::both),
                     power("narrow", 40.0, Ohms{8.0}, Channels::both)};
    EXPECT_EQ(rated_power(sheet, Ohms{8.0}, Channels::both).value_or(RatedPower{}).power,
              Watts{40.0});
}

TEST(RatedPower, RatingThatStatesItsLoadWinsOverOneThatDoesNot) {
    RatingSheet sheet;
    sheet.figures = {power("open", 50.0, std::nullopt, Channels::both),
                     power("eight", 40.0, Ohms{8.0}, Channels::both)};
    EXPECT_EQ(rated_power(sheet, Ohms{8.0}, Channels::both).value_or(RatedPower{}).id, "eight");
    EXPECT_EQ(rated_power(sheet, Ohms{16.0}, Channels::both).value_or(RatedPower{}).id, "open");
}

TEST(RatedPower, RatingForBothChannelsServesOneWhereNoOtherFits) {
    RatingSheet sheet;
    sheet.figures = {power("both", 40.0, Ohms{8.0}, Channels::both)};
    EXPECT_EQ(rated_power(sheet, Ohms{8.0}, Channels::left).value_or(RatedPower{}).id, "both");
    sheet.figures.push_back(power("left", 45.0, Ohms{8.0}, Channels::left));
    EXPECT_EQ(rated_power(sheet, Ohms{8.0}, Channels::left).value_or(RatedPower{}).id, "left");
    // Never the other way round: one channel alone delivers more.
    sheet.figures = {power("left", 45.0, Ohms{8.0}, Channels::left)};
    EXPECT_FALSE(rated_power(sheet, Ohms{8.0}, Channels::both).has_value());
}

TEST(OutputAsked, IsTheVoltageOfThePowerIntoTheLoad) {
    // 40 W into 8 ohm are 17.89 V rms, 1 W 2.83 V (computed: square root of power times load).
    const LevelTarget rated{};
    EXPECT_NEAR(output_asked(rated, Ohms{8.0}, Watts{40.0}).value_or(VoltsRms{}).in<VoltsRms>(),
                17.8885438, 1e-6);
    const LevelTarget watt{LevelTarget::Kind::output_power, 1.0};
    EXPECT_NEAR(output_asked(watt, Ohms{8.0}, Watts{0.0}).value_or(VoltsRms{}).in<VoltsRms>(),
                2.8284271, 1e-6);
    const DistortionLimited limited{std::nullopt,
                                    LevelTarget{LevelTarget::Kind::output_power, 50.0}};
    EXPECT_NEAR(output_asked(limited, Ohms{8.0}, Watts{40.0}).value_or(VoltsRms{}).in<VoltsRms>(),
                20.0, 1e-9);
    EXPECT_FALSE(
        output_asked(LevelTarget{LevelTarget::Kind::drive_volts, 0.1}, Ohms{8.0}, Watts{40.0})
            .has_value());
}

}  // namespace
}  // namespace afterload::sequences
