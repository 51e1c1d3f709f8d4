// A generator beside the card: the sequences that ship run unchanged, each step from whoever can
// play it, and what the generator is enters the figures of its own records alone.
#include "runner/finished_run.hpp"
#include "runner/replay.hpp"
#include "runner/run.hpp"
#include "tests/support/simulated_run.hpp"
#include "tests/support/watching_bench.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>

namespace afterload::test {
namespace {

using runner::RunDocument;
using testing::Contains;
using testing::HasSubstr;

constexpr double clock_ppm = 30.0;  // of the generator against the card, as the bench file says

/// Where the figure's budget has a contribution whose source begins so.
bool has_contribution(const runner::ScoredFigure& scored, const std::string& beginning) {
    const Budget& budget = scored.figure.budget;
    return std::any_of(budget.begin(), budget.end(),
                       [&](const BudgetLine& line) { return line.source.starts_with(beginning); });
}

struct Watched {
    RunDocument document;
    std::string folder;
    std::shared_ptr<BenchLog> log = std::make_shared<BenchLog>();
};

Watched run_beside(const std::string& sequence, const std::string& parent,
                   std::function<void(runner::RunPlan&)> change = nullptr) {
    Watched watched;
    SimulatedRun wanted;
    wanted.sequence = sequence;
    wanted.bench = "benches/north-with-generator.bench.yaml";
    wanted.change = std::move(change);
    wanted.wrap = [log = watched.log](std::unique_ptr<instruments::Bench> bench) {
        return std::make_unique<WatchingBench>(std::move(bench), log);
    };
    auto finished = carry_out(wanted, parent);
    watched.document = std::move(finished.document);
    watched.folder = std::move(finished.folder);
    return watched;
}

TEST(GeneratorBesideTheCard, FinalVerificationRunsUnchangedAndAHealthyUnitPasses) {
    const TemporaryFolder folder;
    const Watched run = run_beside("final-verification", folder.path());
    ASSERT_EQ(run.document.state, runner::RunState::done) << run.document.stop_reason;
    EXPECT_EQ(run.document.verdict, runner::RunVerdict::pass);
    std::map<std::string, bool> from_generator;
    for (const auto& step : run.document.steps) {
        for (const auto& record : step.records) {
            from_generator[step.name] = record.driven.from_generator;
            if (record.driven.from_generator) {
                EXPECT_EQ(record.driven.signal, sequences::Signal::tone) << step.name;
                EXPECT_EQ(record.driven.drive_left_volts, record.driven.drive_right_volts);
            }
        }
    }
    EXPECT_TRUE(from_generator.at("distortion at low level"));
    EXPECT_TRUE(from_generator.at("distortion at rated output, band edges"));
    EXPECT_FALSE(from_generator.at("response, balance, separation"));
    EXPECT_FALSE(from_generator.at("power"));
    const auto read = runner::read_finished_run(run.folder);
    ASSERT_TRUE(read) << read.error();
    const auto again = runner::replay(read->folder, read->document);
    ASSERT_TRUE(again) << again.error();
    EXPECT_THAT(runner::differences(run.document, *again), testing::IsEmpty());
}

TEST(GeneratorBesideTheCard, OneIsSilentBeforeTheOtherPlays) {
    const TemporaryFolder folder;
    const Watched run = run_beside("sequences/card-and-generator.sequence.yaml", folder.path());
    std::map<bool, bool> playing;
    std::map<bool, int> plays;
    for (const auto& entry : run.log->entries) {
        if (entry.what == "play") {
            EXPECT_FALSE(playing[!entry.generator]) << "both played";
            playing[entry.generator] = true;
            ++plays[entry.generator];
        } else if (entry.what == "mute") {
            playing[entry.generator] = false;
        }
    }
    EXPECT_GT(plays[false], 0);
    EXPECT_GT(plays[true], 0);
    EXPECT_FALSE(playing[false] || playing[true]);
}

TEST(GeneratorBesideTheCard, ItsClockIsFoundAndItsLevelStandsInTheBudget) {
    const TemporaryFolder folder;
    const Watched run = run_beside("sequences/card-and-generator.sequence.yaml", folder.path());
    int by_generator = 0;
    int by_card = 0;
    for (const auto& step : run.document.steps) {
        for (const auto& scored : step.figures) {
            if (scored.figure.kind != FigureKind::gain) {
                continue;
            }
            ASSERT_TRUE(scored.figure.conditions.frequency) << scored.id;
            const double ppm = 1e6 * (*scored.figure.conditions.frequency / Hertz{997.0} - 1.0);
            const bool generator = step.records.front().driven.from_generator;
            EXPECT_NEAR(std::abs(ppm), generator ? clock_ppm : 0.0, 1.0) << scored.id;
            EXPECT_EQ(has_contribution(scored, "source level, generator 2026-05-20"), generator);
            EXPECT_EQ(has_contribution(scored, "source level, source 2026-03-02"), !generator);
            EXPECT_EQ(scored.figure.conditions.source_impedance,
                      generator ? Ohms{50.0} : Ohms{100.0});
            ++(generator ? by_generator : by_card);
        }
    }
    EXPECT_EQ(by_generator, 2);
    EXPECT_EQ(by_card, 1);
}

TEST(GeneratorBesideTheCard, OneOfUnknownDistortionLeavesDistortionConditional) {
    const TemporaryFolder folder;
    const auto kinds = [&](const std::string& name, bool known) {
        const Watched run = run_beside("sequences/card-and-generator.sequence.yaml",
                                       folder.path() + "/" + name, [known](runner::RunPlan& plan) {
                                           if (!known) {
                                               plan.bench.generator->distortion.reset();
                                           }
                                       });
        std::vector<analysis::VerdictKind> found;
        for (const auto& step : run.document.steps) {
            for (const auto& scored : step.figures) {
                if (scored.figure.kind == FigureKind::thd && scored.verdict) {
                    found.push_back(scored.verdict->kind);
                }
            }
        }
        return found;
    };
    EXPECT_THAT(kinds("known", true), testing::Each(analysis::VerdictKind::pass));
    const auto unknown = kinds("unknown", false);
    EXPECT_THAT(unknown, testing::Not(Contains(analysis::VerdictKind::pass)));
    EXPECT_THAT(unknown, testing::Not(Contains(analysis::VerdictKind::fail)));
}

// One channel's target ends the search for both: what was played then is the drive of both.
TEST(GeneratorBesideTheCard, ChannelsOfUnlikeGainAreDrivenAlike) {
    const TemporaryFolder folder;
    const Watched run =
        run_beside("sequences/generator.sequence.yaml", folder.path(), [](runner::RunPlan& plan) {
            plan.bench.simulated->left_wrong.push_back({"balance", "0.2 dB"});
        });
    ASSERT_EQ(run.document.state, runner::RunState::done) << run.document.stop_reason;
    int driven = 0;
    for (const auto& step : run.document.steps) {
        for (const auto& record : step.records) {
            EXPECT_EQ(record.driven.drive_left_volts, record.driven.drive_right_volts) << step.name;
            driven += record.driven.drive_left_volts > 0.0 ? 1 : 0;
        }
    }
    EXPECT_GE(driven, 2);
}

TEST(GeneratorBesideTheCard, EveryKindOfSignalFindsItsPlayer) {
    const TemporaryFolder folder;
    const Watched run = run_beside("sequences/every-signal.sequence.yaml", folder.path());
    EXPECT_EQ(run.document.state, runner::RunState::done) << run.document.stop_reason;
}

}  // namespace
}  // namespace afterload::test
