#include "runner/options.hpp"

#include "runner/exit_status.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <initializer_list>
#include <vector>

namespace afterload::runner {
namespace {

using testing::HasSubstr;

Options read(std::initializer_list<const char*> words) {
    std::vector<const char*> all{"afterload"};
    all.insert(all.end(), words.begin(), words.end());
    return read_options(static_cast<int>(all.size()), all.data());
}

NothingToDo refused(std::initializer_list<const char*> words) {
    const Options options = read(words);
    const auto* nothing = std::get_if<NothingToDo>(&options.command);
    return nothing == nullptr ? NothingToDo{"accepted", -1} : *nothing;
}

TEST(Options, AnUnknownCommandIsAnsweredWithTheNearestOne) {
    const auto nothing = refused({"analyse", "x.wav"});
    EXPECT_EQ(nothing.exit_status, exit_usage);
    EXPECT_THAT(nothing.text, HasSubstr("nearest: analyze"));
}

TEST(Options, WhatIsToBeNewIsAnsweredLikewise) {
    EXPECT_THAT(refused({"new", "ratng", "x.yaml"}).text, HasSubstr("nearest: rating"));
    EXPECT_THAT(refused({"new"}).text, HasSubstr("new what? write bench, "));
    EXPECT_THAT(refused({"new", "rating"}).text, HasSubstr("file is required"));
}

TEST(Options, HelpIsNoMistake) {
    EXPECT_EQ(refused({"--help"}).exit_status, 0);
    EXPECT_EQ(refused({"run", "--help"}).exit_status, 0);
    EXPECT_EQ(refused({"--version"}).exit_status, 0);
}

TEST(Options, JsonIsUnderstoodBeforeAndAfterTheCommand) {
    EXPECT_TRUE(read({"--json", "check", "a.yaml"}).output.json);
    EXPECT_TRUE(read({"check", "a.yaml", "--json"}).output.json);
}

TEST(Options, ALoadWithoutItsUnitSaysWhatToWrite) {
    const auto nothing = refused({"analyze", "a.wav", "--load", "8"});
    EXPECT_EQ(nothing.exit_status, exit_usage);
    EXPECT_THAT(nothing.text, HasSubstr("8 ohm"));
}

TEST(Options, QuantitiesAreReadWithTheirUnits) {
    const Options options = read({"analyze", "a.wav", "b.wav", "--full-scale", "1.0V,40V", "--load",
                                  "8ohm", "--mains", "50Hz", "--bandwidth", "20Hz..20kHz"});
    const auto& analyze = std::get<AnalyzeOptions>(options.command);
    EXPECT_EQ(analyze.captures.size(), 2U);
    ASSERT_EQ(analyze.settings.full_scale.size(), 2U);
    EXPECT_EQ(analyze.settings.full_scale[1], VoltsPeak{40.0});
    EXPECT_EQ(analyze.settings.load, Ohms{8.0});
    EXPECT_EQ(analyze.settings.mains, Hertz{50.0});
    EXPECT_EQ(analyze.settings.bandwidth, (Band{Hertz{20.0}, Hertz{20000.0}}));
}

TEST(Options, WhatIsNotFiniteOrNotPositiveIsRefused) {
    for (const char* load : {"0 ohm", "-8 ohm", "nan ohm", "inf ohm", "1e999 ohm"}) {
        EXPECT_EQ(refused({"analyze", "a.wav", "--load", load}).exit_status, exit_usage) << load;
    }
    EXPECT_EQ(refused({"analyze", "a.wav", "--full-scale", "0 V"}).exit_status, exit_usage);
    EXPECT_EQ(refused({"analyze", "a.wav", "--mains", "400Hz"}).exit_status, exit_usage);
}

TEST(Options, ASweepNamesTheFileThatWasPlayed) {
    const Options options = read({"analyze", "a.wav", "--signal", "sweep:played.wav"});
    const auto& analyze = std::get<AnalyzeOptions>(options.command);
    EXPECT_EQ(analyze.settings.signal, CaptureSettings::Signal::sweep);
    EXPECT_EQ(analyze.settings.stimulus, "played.wav");
    EXPECT_THAT(refused({"analyze", "a.wav", "--signal", "sweep:"}).text,
                HasSubstr("sweep:STIMULUS.wav"));
}

TEST(Options, ASignalIsOneOfFive) {
    const Options options = read({"analyze", "a.wav", "--signal", "multitone:a.wav"});
    EXPECT_EQ(std::get<AnalyzeOptions>(options.command).settings.signal,
              CaptureSettings::Signal::multitone);
    EXPECT_THAT(refused({"analyze", "a.wav", "--signal", "tune"}).text, HasSubstr("no signal"));
}

TEST(Options, WhatIsWatchedIsATone) {
    const Options options = read({"analyze", "a.wav", "--watch"});
    EXPECT_TRUE(std::get<AnalyzeOptions>(options.command).settings.watch);
    EXPECT_FALSE(std::get<AnalyzeOptions>(read({"analyze", "a.wav"}).command).settings.watch);
    const auto silent = refused({"analyze", "a.wav", "--watch", "--signal", "silence"});
    EXPECT_EQ(silent.exit_status, exit_usage);
    EXPECT_THAT(silent.text, HasSubstr("play a tone"));
}

TEST(Options, AStageIsOneOfFour) {
    EXPECT_THAT(refused({"run", "s", "--unit", "u", "--bench", "b", "--stage", "fixed"}).text,
                HasSubstr("as_received"));
}

TEST(Options, AParameterIsSetByNameAndValue) {
    const Options options = read({"run", "s", "--unit", "u", "--bench", "b", "--set", "dwell=5 s"});
    const auto& run = std::get<RunOptions>(options.command);
    ASSERT_EQ(run.set.size(), 1U);
    EXPECT_EQ(run.set[0].first, "dwell");
    EXPECT_EQ(run.set[0].second, "5 s");
    EXPECT_EQ(refused({"run", "s", "--unit", "u", "--bench", "b", "--set", "dwell"}).exit_status,
              exit_usage);
}

}  // namespace
}  // namespace afterload::runner
