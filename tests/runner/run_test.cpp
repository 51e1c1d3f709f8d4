// A whole run on the simulated bench, looked at from outside: what was driven, what is kept, what a
// second run says.
#include "runner/run.hpp"

#include "runner/finished_run.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/replay.hpp"
#include "tests/support/simulated_run.hpp"
#include "tests/support/watching_bench.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <set>

namespace afterload::test {
namespace {

using runner::RunDocument;
using testing::HasSubstr;

/// A run with records short enough for a test; everything else as shipped.
SimulatedRun short_quick_check() {
    SimulatedRun wanted;
    wanted.bench = "benches/north-48k.bench.yaml";
    wanted.set = {{"quiet_record", "0.5 s"}};
    return wanted;
}

std::string without_stamps(RunDocument document) {
    document.id.clear();
    document.started.clear();
    document.ended.clear();
    return runner::run_json_text(document);
}

TEST(Run, TwoRunsWithTheSameSeedsWriteTheSameDocumentButForStamps) {
    const TemporaryFolder folder;
    const auto first = carry_out(short_quick_check(), folder.path(), "first");
    const auto second = carry_out(short_quick_check(), folder.path(), "second");
    EXPECT_EQ(without_stamps(first.document), without_stamps(second.document));
}

TEST(Run, AnotherRunSeedGivesOtherReadingsOfTheSameUnit) {
    const TemporaryFolder folder;
    const auto first = carry_out(short_quick_check(), folder.path(), "first");
    SimulatedRun other = short_quick_check();
    other.change = [](runner::RunPlan& plan) { plan.bench.simulated->run_seed = 43; };
    const auto second = carry_out(other, folder.path(), "second");
    EXPECT_NE(without_stamps(first.document), without_stamps(second.document));
    EXPECT_EQ(first.document.verdict, second.document.verdict);
}

TEST(Run, AllFiguresComeBackFromTheStoredRecordsToTheLastDigit) {
    const TemporaryFolder folder;
    const auto run = carry_out(short_quick_check(), folder.path());
    const auto finished = runner::read_finished_run(run.folder);
    ASSERT_TRUE(finished) << finished.error();
    const auto again = runner::replay(finished->folder, finished->document);
    ASSERT_TRUE(again) << again.error();
    EXPECT_THAT(runner::differences(run.document, *again), testing::IsEmpty());
    EXPECT_EQ(again->verdict, run.document.verdict);
}

TEST(Run, AnEditedRecordIsNamedAndNotScoredAsIfItWereWhole) {
    const TemporaryFolder folder;
    const auto run = carry_out(short_quick_check(), folder.path());
    const auto finished = runner::read_finished_run(run.folder);
    ASSERT_TRUE(finished) << finished.error();
    const std::string victim = run.document.steps.at(1).records.at(0).path;
    std::filesystem::resize_file(run.folder + "/" + victim,
                                 std::filesystem::file_size(run.folder + "/" + victim) - 1);
    const auto again = runner::replay(finished->folder, finished->document);
    ASSERT_FALSE(again);
    EXPECT_THAT(again.error(), HasSubstr(victim));
    EXPECT_THAT(again.error(), HasSubstr("checksum"));
}

/// The run with everything that was done to its bench.
std::pair<RunDocument, std::shared_ptr<BenchLog>> watched(SimulatedRun wanted,
                                                          const std::string& parent,
                                                          bool with_meter = true,
                                                          bool with_switched_loads = true) {
    auto log = std::make_shared<BenchLog>();
    wanted.wrap = [=](std::unique_ptr<instruments::Bench> bench) {
        return std::make_unique<WatchingBench>(std::move(bench), log, with_meter,
                                               with_switched_loads);
    };
    auto run = carry_out(wanted, parent);
    return {std::move(run.document), log};
}

TEST(Run, TheFirstDriveYieldsAtMostTenMilliwatts) {
    const TemporaryFolder folder;
    const auto [run, log] = watched(short_quick_check(), folder.path());
    const auto first = std::find_if(log->entries.begin(), log->entries.end(),
                                    [](const auto& entry) { return entry.what == "play"; });
    ASSERT_NE(first, log->entries.end());
    // 10 mW into 8.02 ohm behind 85 dB of gain is 15.9 uV.
    EXPECT_LE(first->largest_drive, 15.95e-6);
    EXPECT_GT(first->largest_drive, 0.0);
    const auto record = std::find_if(first, log->entries.end(),
                                     [](const auto& entry) { return entry.what == "record"; });
    ASSERT_NE(record, log->entries.end());
    EXPECT_LE(record->worst_output, std::sqrt(2.0 * 0.010 * 8.02));
}

// At 1 kHz alone: a bass tone that begins carries the coupling capacitors' transient on its first
// cycle, which is the unit's and not the level's. So does one that begins again behind a look at
// the load, which loads wired for good do not have.
TEST(Run, NoOutputEverPassesTheTarget) {
    const TemporaryFolder folder;
    SimulatedRun wanted = short_quick_check();
    wanted.sequence = "sequences/short.sequence.yaml";
    wanted.set.clear();
    const auto [run, log] = watched(wanted, folder.path(), true, false);
    ASSERT_EQ(run.verdict, runner::RunVerdict::pass);
    // 0.25 W into 8.02 ohm is 2.0025 V peak; offset, hum and noise stand on top of it, and the
    // level is known to 0.25 % (k = 1).
    EXPECT_LE(log->entries.back().worst_output, 2.0025 * 1.005 + 0.015);
    EXPECT_GE(log->entries.back().worst_output, 2.0025 * 0.98) << "the target was never reached";
    EXPECT_LE(log->entries.back().worst_range_use, 1.0);
}

TEST(Run, DriveRisesByAtMostTenDecibelsAStep) {
    const TemporaryFolder folder;
    const auto [run, log] = watched(short_quick_check(), folder.path());
    double highest = 0.0;
    for (const auto& entry : log->entries) {
        if (entry.what == "play") {
            if (highest > 0.0) {
                EXPECT_LE(20.0 * std::log10(entry.largest_drive / highest), 10.01);
            }
            highest = std::max(highest, entry.largest_drive);
        }
    }
}

TEST(Run, EndsMutedWithTheLoadLetGoAfterTheDrive) {
    const TemporaryFolder folder;
    const auto [run, log] = watched(short_quick_check(), folder.path());
    std::size_t last_play = 0;
    std::size_t last_mute = 0;
    std::size_t release = 0;
    for (std::size_t i = 0; i < log->entries.size(); ++i) {
        const std::string& what = log->entries[i].what;
        last_play = what == "play" ? i : last_play;
        last_mute = what == "mute" ? i : last_mute;
        release = what == "release" ? i : release;
    }
    EXPECT_LT(last_play, last_mute);
    EXPECT_LT(last_mute, release);
}

TEST(Run, TheRangeIsOnlySwitchedWhileTheSourceIsMuted) {
    const TemporaryFolder folder;
    const auto [run, log] = watched(short_quick_check(), folder.path());
    bool playing = false;
    int switched = 0;
    for (const auto& entry : log->entries) {
        playing = entry.what == "play" || (playing && entry.what != "mute");
        if (entry.what.starts_with("select")) {
            ++switched;
            EXPECT_FALSE(playing);
        }
    }
    EXPECT_GT(switched, 1);
}

TEST(Run, EveryInputFileIsKeptAsItWasUsed) {
    const TemporaryFolder folder;
    const auto run = carry_out(short_quick_check(), folder.path());
    std::set<std::string> roles;
    for (const auto& file : run.document.files) {
        roles.insert(file.role);
        EXPECT_TRUE(std::filesystem::exists(run.folder + "/" + file.path)) << file.path;
    }
    EXPECT_EQ(roles, (std::set<std::string>{"rating", "house", "bench", "sequence"}));
    for (const char* paper : {"run.json", "figures.csv", "report.html"}) {
        EXPECT_TRUE(std::filesystem::exists(run.folder + "/" + paper)) << paper;
    }
}

TEST(Run, AnOffsetOutOfItsLimitEndsTheRunBeforeAnyDrive) {
    const TemporaryFolder folder;
    SimulatedRun wanted = short_quick_check();
    wanted.change = [](runner::RunPlan& plan) {
        plan.bench.simulated->faults = {{"offset", Channels::left, 1.0, {}, {}}};
    };
    const auto run = carry_out(wanted, folder.path());
    EXPECT_EQ(run.document.state, runner::RunState::stopped);
    EXPECT_EQ(exit_status(run.document), 3);
    EXPECT_THAT(run.document.stop_reason, HasSubstr("nothing was driven"));
    for (const auto& step : run.document.steps) {
        EXPECT_TRUE(step.records.empty());
    }
}

TEST(Run, WithoutAMeterAnOffsetThatNobodyTypesInEndsTheRunBeforeAnyDrive) {
    const TemporaryFolder folder;
    const auto [run, log] = watched(short_quick_check(), folder.path(), false);
    EXPECT_EQ(run.state, runner::RunState::stopped);
    EXPECT_THAT(run.stop_reason, HasSubstr("was not answered"));
    for (const auto& entry : log->entries) {
        EXPECT_NE(entry.what, "play");
    }
}

// The figures themselves are held to their references in tests/analysis and tests/outside; here
// that a run plays every signal, finds every figure, and says the same when it is replayed.
TEST(Run, PlaysEverySignalAndTakesEveryFigureFromIt) {
    const TemporaryFolder folder;
    SimulatedRun wanted;
    wanted.sequence = "sequences/every-signal.sequence.yaml";
    const auto finished = carry_out(wanted, folder.path());
    const RunDocument& run = finished.document;
    ASSERT_EQ(run.state, runner::RunState::done) << run.stop_reason;
    std::set<FigureKind> taken;
    for (const auto& step : run.steps) {
        for (const auto& scored : step.figures) {
            const bool there = scored.figure.value || scored.figure.bound || scored.figure.curve;
            EXPECT_TRUE(there) << scored.id << ": " << scored.figure.unresolved;
            if (there) {
                taken.insert(scored.figure.kind);
            }
        }
    }
    for (const FigureKind kind : {FigureKind::noise_voltage,
                                  FigureKind::hum_voltage,
                                  FigureKind::random_steps,
                                  FigureKind::gain,
                                  FigureKind::channel_balance,
                                  FigureKind::channel_separation,
                                  FigureKind::polarity,
                                  FigureKind::channel_identity,
                                  FigureKind::thd_plus_noise,
                                  FigureKind::frequency_response,
                                  FigureKind::bandwidth_low,
                                  FigureKind::bandwidth_high,
                                  FigureKind::thd,
                                  FigureKind::modulation_distortion,
                                  FigureKind::difference_frequency_distortion,
                                  FigureKind::output_impedance,
                                  FigureKind::damping_factor,
                                  FigureKind::level_linearity,
                                  FigureKind::input_sensitivity,
                                  FigureKind::distortion_limited_power,
                                  FigureKind::clipping_symmetry,
                                  FigureKind::short_term_power,
                                  FigureKind::power_bandwidth,
                                  FigureKind::volume_tracking,
                                  FigureKind::tone_range_error,
                                  FigureKind::equalisation_error}) {
        EXPECT_TRUE(taken.contains(kind)) << name(kind);
    }
    const auto read = runner::read_finished_run(finished.folder);
    ASSERT_TRUE(read.has_value());
    const auto again = runner::replay(read->folder, read->document);
    ASSERT_TRUE(again.has_value()) << again.error();
    EXPECT_THAT(runner::differences(read->document, *again), testing::IsEmpty());
}

// A step ends with its last record: the frames go missing half a second before, in the middle of
// it.
const runner::ScoredFigure& figure_of(const RunDocument& run, FigureKind kind, int channel) {
    for (const auto& step : run.steps) {
        for (const auto& scored : step.figures) {
            if (scored.figure.kind == kind && scored.figure.channel == channel) {
                return scored;
            }
        }
    }
    throw std::runtime_error("no such figure");
}

/// The short run on a source of `full_scale`; 0.25 W takes 11.9 mV, at a gain of 41.5 dB.
RunDocument on_a_source_of(VoltsRms full_scale, std::vector<sequences::LeftWrongEntry> wrong,
                           const std::string& folder) {
    SimulatedRun wanted;
    wanted.sequence = "sequences/short.sequence.yaml";
    wanted.bench = "benches/north-48k.bench.yaml";
    wanted.change = [=](runner::RunPlan& plan) {
        plan.bench.source.full_scale = full_scale;
        plan.bench.simulated->left_wrong = wrong;
    };
    return carry_out(wanted, folder).document;
}

TEST(Run, ALevelBeyondTheSourceIsNamedAndItsDistortionIsNotJudged) {
    const TemporaryFolder folder;
    const RunDocument run = on_a_source_of(VoltsRms{0.008}, {}, folder.path());
    EXPECT_TRUE(run.stop_reason.empty()) << run.stop_reason;
    for (const int channel : {1, 2}) {
        const auto& thd = figure_of(run, FigureKind::thd, channel);
        ASSERT_TRUE(thd.verdict);
        EXPECT_EQ(thd.verdict->kind, analysis::VerdictKind::not_resolvable);
        EXPECT_THAT(thd.verdict->reason, HasSubstr("0.008 V is all the drive there is"));
        EXPECT_THAT(thd.verdict->reason, HasSubstr("of 1.4"));
        EXPECT_EQ(figure_of(run, FigureKind::gain, channel).verdict->kind,
                  analysis::VerdictKind::pass);
    }
    EXPECT_EQ(run.verdict, runner::RunVerdict::inconclusive);
}

TEST(Run, AChannelTooWeakForTheSourceDoesNotEndTheRunOfTheOther) {
    const TemporaryFolder folder;
    const RunDocument run = on_a_source_of(VoltsRms{0.02}, {{"balance", "-12 dB"}}, folder.path());
    EXPECT_TRUE(run.stop_reason.empty()) << run.stop_reason;
    EXPECT_EQ(figure_of(run, FigureKind::thd, 1).verdict->kind, analysis::VerdictKind::pass);
    EXPECT_EQ(figure_of(run, FigureKind::thd, 2).verdict->kind,
              analysis::VerdictKind::not_resolvable);
    EXPECT_EQ(figure_of(run, FigureKind::gain, 2).verdict->kind, analysis::VerdictKind::fail);
    const auto read_back = runner::read_run_json(runner::run_json_text(run));
    ASSERT_TRUE(read_back);
    const auto& driven = read_back->steps.back().records.front().driven;
    EXPECT_EQ(driven.short_of_level[0], "");
    EXPECT_THAT(driven.short_of_level[1], HasSubstr("is all the drive there is"));
}

TEST(Run, FramesThatTheCardLosesAreTakenAgainAndShownAsARetake) {
    const TemporaryFolder folder;
    SimulatedRun wanted = short_quick_check();
    const auto undisturbed = carry_out(wanted, folder.path(), "undisturbed");
    const auto& steps = undisturbed.document.steps;
    const auto response = std::find_if(steps.begin(), steps.end(),
                                       [](const auto& step) { return step.name == "response"; });
    ASSERT_NE(response, steps.end());
    const Seconds moment = response->ended - Seconds{1.45};
    wanted.change = [moment](runner::RunPlan& plan) {
        plan.bench.simulated->faults = {{"lost_frames", Channels::both, 1.0, moment, {}}};
    };
    const auto run = carry_out(wanted, folder.path());
    std::size_t retakes = 0;
    for (const auto& step : run.document.steps) {
        for (const auto& retake : step.retakes) {
            ++retakes;
            ASSERT_FALSE(retake.faults.empty());
            EXPECT_EQ(retake.faults.front().kind, CaptureFaultKind::gap);
            EXPECT_EQ(retake.faults.front().channel, 0) << "a slip of the card is in all channels";
        }
    }
    EXPECT_EQ(retakes, 1U);
    EXPECT_EQ(run.document.verdict, runner::RunVerdict::pass);
}

TEST(Run, ALoadThatIsNotThereIsMissedAtTheFirstLowLevelBeforeAnyPower) {
    for (const Channels channel : {Channels::left, Channels::right, Channels::both}) {
        const TemporaryFolder folder;
        SimulatedRun wanted;
        wanted.sequence = "final-verification";
        wanted.bench = "benches/north-48k.bench.yaml";
        wanted.set = {{"top", "5997 Hz"}};
        wanted.change = [channel](runner::RunPlan& plan) {
            plan.bench.simulated->faults.push_back(
                {"load_off", channel, 0.5, std::nullopt, std::nullopt});
        };
        const auto [run, log] = watched(wanted, folder.path());
        EXPECT_EQ(run.state, runner::RunState::stopped);
        const std::string which =
            channel == Channels::both ? "left and right" : std::string{name(channel)};
        EXPECT_THAT(run.stop_reason, HasSubstr("no load on " + which + ": the level stays"));
        for (const auto& entry : log->entries) {
            EXPECT_LT(entry.worst_output, 5.0);  // 1 W into 8 ohm is 4 V peak
        }
    }
}

TEST(Run, ALoadIsLetGoOnceForEachPairOfTerminals) {
    const TemporaryFolder folder;
    SimulatedRun wanted;
    wanted.sequence = "sequences/card-and-generator.sequence.yaml";
    wanted.bench = "benches/north-48k.bench.yaml";
    const auto [run, log] = watched(wanted, folder.path());
    EXPECT_EQ(run.state, runner::RunState::done) << run.stop_reason;
    const auto released = std::count_if(log->entries.begin(), log->entries.end(),
                                        [](const auto& entry) { return entry.what == "release"; });
    EXPECT_EQ(released, 2);  // the look, and the end
}

TEST(Run, AnOutputTransformerIsNeverWithoutItsLoadBeforeTheEnd) {
    const TemporaryFolder folder;
    SimulatedRun wanted;
    wanted.sequence = "sequences/card-and-generator.sequence.yaml";
    wanted.bench = "benches/north-48k.bench.yaml";
    wanted.change = [](runner::RunPlan& plan) { plan.sheet.unit->output_transformer = true; };
    const auto [run, log] = watched(wanted, folder.path());
    EXPECT_EQ(run.state, runner::RunState::done) << run.stop_reason;
    const auto released = std::count_if(log->entries.begin(), log->entries.end(),
                                        [](const auto& entry) { return entry.what == "release"; });
    EXPECT_EQ(released, 1);
}

}  // namespace
}  // namespace afterload::test
