#include "sequences/review.hpp"

#include "sequences/bench_reader.hpp"
#include "sequences/rating_reader.hpp"
#include "sequences/sequence_reader.hpp"
#include "tests/sequences/file_text.hpp"

#include <gtest/gtest.h>

#include <string>

namespace afterload::sequences {
namespace {

class Review : public testing::Test {
protected:
    void SetUp() override {
        const auto unit =
            read_rating(file_text(source_path("fixtures/units/hollinfay-h40.rating.yaml")), "unit");
        const auto house =
            read_rating(file_text(source_path("fixtures/house.rating.yaml")), "house");
        const auto bench =
            read_bench(file_text(source_path("fixtures/benches/north.bench.yaml")), "bench");
        ASSERT_TRUE(unit.has_value());
        ASSERT_TRUE(house.has_value());
        ASSERT_TRUE(bench.has_value());
        sheet_ = laid_under(*unit, *house);
        bench_ = *bench;
    }

    // A sequence of one tone step; `lines` are its keys, each indented by four.
    [[nodiscard]] Diagnostics mistakes(const std::string& lines,
                                       const ReviewSettings& settings = {}) const {
        const std::string text =
            "afterload: sequence/1\ntitle: a\nsteps:\n  - name: a\n    signal: tone\n"
            "    frequency: 997 Hz\n    record: 0.5 s\n" +
            lines;
        const auto sequence = read_sequence(text, "a");
        EXPECT_TRUE(sequence.has_value())
            << (sequence ? "" : afterload::sequences::text(sequence.error()));
        return sequence ? review(sheet_, bench_, *sequence, settings) : Diagnostics{};
    }

    RatingSheet sheet_;
    BenchFile bench_;
};

TEST_F(Review, FindsNothingInAStepThatFits) {
    const Diagnostics found = mistakes("    level: rated\n    figures: [thd]\n");
    EXPECT_TRUE(found.empty()) << text(found);
}

TEST_F(Review, LoadTakesItsShortTermWattsOnlyForItsShortTime) {
    bench_.limits.largest_output.reset();
    for (LoadEntry& load : bench_.loads) {
        load.continuous = Watts{30.0};
        load.short_term = Watts{60.0};
        load.short_time = Seconds{10.0};
    }
    EXPECT_TRUE(mistakes("    level: 40 W\n    dwell: 9 s\n").empty());
    EXPECT_EQ(mistakes("    level: 40 W\n    dwell: 10 s\n").count(), 1U);
    // Thirteen tones of 0.8 s each at one level add up to 10.4 s.
    EXPECT_EQ(
        mistakes("    for_each: {levels: [40 W, 40 W, 40 W, 40 W, 40 W, 40 W, 40 W, 40 W, 40 W, "
                 "40 W, 40 W, 40 W, 40 W]}\n")
            .count(),
        1U);
    EXPECT_EQ(mistakes("    level: 61 W\n").count(), 1U);
}

TEST_F(Review, LoadThatRestsInBetweenStartsAnew) {
    bench_.limits.largest_output.reset();
    for (LoadEntry& load : bench_.loads) {
        load.continuous = Watts{30.0};
        load.short_term = Watts{60.0};
        load.short_time = Seconds{10.0};
    }
    EXPECT_EQ(mistakes("    dwell: 6 s\n    for_each: {levels: [40 W, 40 W]}\n").count(), 1U);
    EXPECT_TRUE(mistakes("    dwell: 6 s\n    for_each: {levels: [40 W, 1 W, 40 W]}\n").empty());
}

TEST_F(Review, OnlyTheLoadsOfTheDrivenChannelsCount) {
    bench_.limits.largest_output.reset();
    bench_.loads[1].continuous = Watts{10.0};
    bench_.loads[1].short_term.reset();
    bench_.loads[1].short_time.reset();
    EXPECT_TRUE(mistakes("    level: 40 W\n    driven: left\n").empty());
    EXPECT_EQ(mistakes("    level: 40 W\n    driven: right\n").count(), 1U);
    EXPECT_EQ(mistakes("    level: 40 W\n").count(), 1U);
}

TEST_F(Review, RangeIsHeldAgainstThePeakAndNotTheRms) {
    // 60 V peak is safe: 225 W into 8 ohm are 42.4 V rms, 60.0 V peak.
    bench_.limits.largest_output.reset();
    bench_.loads[0].continuous = bench_.loads[1].continuous = Watts{1000.0};
    bench_.ranges[0].full_scale = VoltsPeak{100.0};
    EXPECT_TRUE(mistakes("    level: 223 W\n    range: high\n").empty());
    EXPECT_EQ(mistakes("    level: 226 W\n    range: high\n").count(), 1U);
}

TEST_F(Review, AutomaticRangeNeedsOneThatTakesTheLevel) {
    bench_.ranges.erase(bench_.ranges.begin());
    EXPECT_TRUE(mistakes("    level: 1 W\n").empty());
    EXPECT_EQ(mistakes("    level: rated\n").count(), 1U);
}

TEST_F(Review, UpperEndOfALevelLimitedByDistortionCounts) {
    bench_.limits.largest_output = Watts{45.0};
    const std::string limited = "    level: {distortion: 0.1 %, up_to: rated + 1 dB}\n";
    EXPECT_EQ(mistakes(limited).count(), 1U);
    bench_.limits.largest_output = Watts{51.0};
    EXPECT_TRUE(mistakes(limited).empty());
}

TEST_F(Review, DriveMayNotExceedTheHouseOrTheSource) {
    EXPECT_TRUE(mistakes("    level: 0 dBFS\n").empty());
    bench_.limits.largest_drive = VoltsRms{1.0};
    EXPECT_EQ(mistakes("    level: 0 dBFS\n").count(), 1U);
    EXPECT_TRUE(mistakes("    level: -6.03 dBFS\n").empty());
    bench_.limits.largest_drive.reset();
    EXPECT_EQ(mistakes("    level: 2.1 V\n").count(), 1U);
}

TEST_F(Review, UnitAsReceivedStaysAtOneWattUnlessToldOtherwise) {
    ReviewSettings settings;
    settings.stage = "as_received";
    EXPECT_TRUE(mistakes("    level: 1 W\n", settings).empty());
    EXPECT_EQ(mistakes("    level: 1.1 W\n", settings).count(), 1U);
    settings.power_as_received = true;
    EXPECT_TRUE(mistakes("    level: rated\n", settings).empty());
}

TEST_F(Review, WhatTheOnlyGeneratorCannotPlayIsNamedAndBesideACardItIsTheCards) {
    const std::string alone =
        "    level: 1 W\n    for_each: {channels: [left, right]}\n"
        "    figures: [thd]\n";
    const std::string searched = "    level: 1 W\n    figures: [output_power]\n";
    bench_.source.instrument = "sine box";
    EXPECT_NE(text(mistakes(alone)).find("the generator “sine box” plays both channels alike"),
              std::string::npos);
    EXPECT_NE(text(mistakes(searched)).find("output_power needs a level for each channel"),
              std::string::npos);
    EXPECT_TRUE(mistakes("    level: 1 W\n    figures: [thd]\n").empty());
    bench_.source.instrument.clear();
    bench_.generator = bench_.source;
    bench_.generator->instrument = "sine box";
    EXPECT_TRUE(mistakes(alone).empty()) << text(mistakes(alone));
    EXPECT_TRUE(mistakes(searched).empty()) << text(mistakes(searched));
}

TEST_F(Review, DriveIsHeldAgainstTheSourceThatPlaysTheStep) {
    bench_.limits.largest_drive.reset();
    bench_.generator = bench_.source;
    bench_.generator->full_scale = VoltsRms{1.0};
    const std::string both = "    level: 1.5 V\n    figures: [thd]\n";
    EXPECT_NE(text(mistakes(both)).find("the source gives at most 1 V"), std::string::npos)
        << text(mistakes(both));
    EXPECT_TRUE(mistakes("    driven: left\n" + both).empty());
}

TEST_F(Review, BridgedOutputNeedsAFloatingSense) {
    sheet_.unit->bridged = true;
    EXPECT_EQ(mistakes("    level: 1 W\n").count(), 1U);
    bench_.sense_grounded = false;
    EXPECT_TRUE(mistakes("    level: 1 W\n").empty());
}

TEST_F(Review, OutputTransformerIsNotDrivenWithoutItsLoad) {
    const std::string open =
        "    level: 1 W\n    for_each: {loads: [8 ohm, open]}\n    figures: [damping_factor]\n";
    EXPECT_TRUE(mistakes(open).empty());
    sheet_.unit->output_transformer = true;
    EXPECT_NE(text(mistakes(open)).find("output transformer"), std::string::npos);
    EXPECT_TRUE(mistakes("    level: 1 W\n    for_each: {loads: [8 ohm]}\n").empty());
}

TEST_F(Review, OpenOutputNeedsLoadsThatTheBenchCanLetGoOf) {
    const std::string open =
        "    level: 1 W\n    for_each: {loads: [8 ohm, open]}\n    figures: [damping_factor]\n";
    bench_.simulated.reset();
    EXPECT_NE(text(mistakes(open)).find("lets go of the bench's loads"), std::string::npos)
        << text(mistakes(open));
    for (LoadEntry& load : bench_.loads) {
        load.relay = 101;
    }
    EXPECT_TRUE(mistakes(open).empty()) << text(mistakes(open));
}

TEST_F(Review, EveryLoadOfAListIsLookedForOnTheBench) {
    const std::string both = "    level: 20 W\n    for_each: {loads: [8 ohm, 4 ohm]}\n";
    EXPECT_NE(text(mistakes(both)).find("the bench has no load of 4 ohm"), std::string::npos)
        << text(mistakes(both));
    for (const Channels channel : {Channels::left, Channels::right}) {
        LoadEntry four = *find_load(bench_, channel, std::nullopt);
        four.resistance = Ohms{4.02};
        four.continuous = Watts{10.0};
        four.short_term.reset();
        four.short_time.reset();
        bench_.loads.push_back(four);
    }
    EXPECT_NE(text(mistakes(both)).find("20 W"), std::string::npos) << text(mistakes(both));
    for (LoadEntry& load : bench_.loads) {
        load.continuous = Watts{100.0};
    }
    EXPECT_TRUE(mistakes(both).empty()) << text(mistakes(both));
    EXPECT_EQ(load_on(bench_, std::nullopt),
              find_load(bench_, Channels::left, Ohms{8.0})->resistance);
}

TEST_F(Review, RatedReferenceLevelNeedsAPowerRatingToo) {
    std::erase_if(sheet_.figures, [](const RatedFigure& rated) {
        return rated.figure == FigureKind::output_power;
    });
    const auto sequence = read_sequence(
        "afterload: sequence/1\ntitle: a\nsteps:\n  - name: a\n    signal: silence\n    figures:\n"
        "      - {figure: signal_to_noise, reference_level: rated}\n",
        "a");
    ASSERT_TRUE(sequence.has_value());
    EXPECT_EQ(review(sheet_, bench_, *sequence).count(), 1U);
}

TEST_F(Review, DistortionAsRatedNeedsOneThatIsRated) {
    const std::string limited = "    level: {distortion: as rated, up_to: rated}\n";
    EXPECT_TRUE(mistakes(limited).empty());
    for (RatedFigure& rated : sheet_.figures) {
        rated.conditions.thd.reset();
    }
    EXPECT_TRUE(mistakes(limited).empty());  // thd_rated still says it
    std::erase_if(sheet_.figures,
                  [](const RatedFigure& rated) { return rated.figure == FigureKind::thd; });
    EXPECT_EQ(mistakes(limited).count(), 1U);
}

}  // namespace
}  // namespace afterload::sequences
