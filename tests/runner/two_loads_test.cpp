// A bench with loads of two kinds: each step is measured into the one that it names, and what is
// computed from a load is computed from that one.
#include "runner/finished_run.hpp"
#include "runner/plan/planned_run.hpp"
#include "runner/replay.hpp"
#include "tests/support/simulated_run.hpp"
#include "tests/support/watching_bench.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <set>

namespace afterload::test {
namespace {

using runner::RunDocument;
using runner::ScoredFigure;

SimulatedRun into_both() {
    SimulatedRun wanted;
    wanted.sequence = "sequences/two-loads.sequence.yaml";
    wanted.bench = "benches/two-loads.bench.yaml";
    return wanted;
}

/// The figures of one kind that a step gave, in the order in which it gave them.
std::vector<ScoredFigure> figures_of(const RunDocument& run, const std::string& step,
                                     FigureKind kind) {
    std::vector<ScoredFigure> found;
    for (const auto& each : run.steps) {
        if (each.name == step) {
            std::copy_if(each.figures.begin(), each.figures.end(), std::back_inserter(found),
                         [&](const ScoredFigure& scored) { return scored.figure.kind == kind; });
        }
    }
    return found;
}

class TwoLoads : public testing::Test {
protected:
    void SetUp() override {
        SimulatedRun wanted = into_both();
        wanted.wrap = [this](std::unique_ptr<instruments::Bench> bench) {
            return std::make_unique<WatchingBench>(std::move(bench), log_);
        };
        auto finished = carry_out(wanted, folder_.path());
        run_ = std::move(finished.document);
        run_folder_ = std::move(finished.folder);
        ASSERT_EQ(run_.state, runner::RunState::done) << run_.stop_reason;
    }

    const TemporaryFolder folder_;
    std::shared_ptr<BenchLog> log_ = std::make_shared<BenchLog>();
    RunDocument run_;
    std::string run_folder_;
};

// Ohm's law: P = U²/R, so equal watts into half the load are 1/sqrt(2) of the volts.
TEST_F(TwoLoads, PowerIsThatIntoTheLoadThatTheStepNames) {
    for (const auto& [step, ohms] :
         {std::pair{"power into 4 ohm", 4.01}, std::pair{"power into 8 ohm", 8.02}}) {
        const auto powers = figures_of(run_, step, FigureKind::output_power);
        const auto volts = figures_of(run_, step, FigureKind::output_voltage);
        ASSERT_EQ(powers.size(), 2U) << step;
        ASSERT_EQ(volts.size(), 2U) << step;
        for (std::size_t c = 0; c < 2; ++c) {
            const Figure& power = powers[c].figure;
            ASSERT_TRUE(power.value && volts[c].figure.value) << step;
            EXPECT_NEAR(power.conditions.load.value_or(Ohms{0.0}).in<Ohms>(), ohms, 1e-9) << step;
            EXPECT_NEAR(*power.value, *volts[c].figure.value * *volts[c].figure.value / ohms,
                        1e-6 * *power.value)
                << step;
            // The level is found to -0.1 dB and the tone's power is all but all.
            EXPECT_NEAR(*power.value, 20.0, 0.6) << step;
        }
    }
}

// The unit's output impedance is one: by 8 against 4 ohm, and by 8 ohm against none.
TEST_F(TwoLoads, TwoLoadsGiveTheOutputImpedanceThatAnOpenOutputGives) {
    const auto two = figures_of(run_, "one drive into both", FigureKind::output_impedance);
    const auto open = figures_of(run_, "loaded and open", FigureKind::output_impedance);
    ASSERT_EQ(two.size(), 2U);
    ASSERT_EQ(open.size(), 2U);
    for (std::size_t c = 0; c < 2; ++c) {
        ASSERT_TRUE(two[c].figure.value && open[c].figure.value);
        const double u =
            std::hypot(expanded(two[c].figure.budget), expanded(open[c].figure.budget));
        EXPECT_GT(*two[c].figure.value, 0.0);
        EXPECT_NEAR(*two[c].figure.value, *open[c].figure.value, u) << "channel " << c + 1;
    }
}

TEST_F(TwoLoads, FiguresIntoTheOtherLoadHaveANameOfTheirOwn) {
    const auto gains = figures_of(run_, "one drive into both", FigureKind::gain);
    ASSERT_EQ(gains.size(), 4U);
    std::set<std::string> ids;
    std::set<std::string> labels;
    for (const ScoredFigure& gain : gains) {
        ids.insert(gain.id);
        labels.insert(gain.label);
    }
    EXPECT_EQ(ids.size(), 4U);
    EXPECT_EQ(labels, (std::set<std::string>{"gain 1 kHz", "gain 1 kHz, 4 Ω"}));
}

TEST_F(TwoLoads, NoLoadIsChangedWhileSomethingPlays) {
    bool playing = false;
    int changes = 0;
    for (const auto& entry : log_->entries) {
        if (entry.what == "play") {
            playing = true;
        } else if (entry.what == "mute") {
            playing = false;
        } else if (entry.what == "connect") {
            EXPECT_FALSE(playing);
            ++changes;
        }
    }
    EXPECT_GE(changes, 4);
}

TEST_F(TwoLoads, FiguresComeBackFromTheRecordsToTheLastDigit) {
    const auto finished = runner::read_finished_run(run_folder_);
    ASSERT_TRUE(finished) << finished.error();
    const auto again = runner::replay(finished->folder, finished->document);
    ASSERT_TRUE(again) << again.error();
    for (const char* step : {"one drive into both", "power into 4 ohm"}) {
        for (const FigureKind kind : {FigureKind::gain, FigureKind::output_power}) {
            const auto first = figures_of(run_, step, kind);
            const auto second = figures_of(*again, step, kind);
            ASSERT_EQ(first.size(), second.size());
            for (std::size_t i = 0; i < first.size(); ++i) {
                EXPECT_EQ(first[i].figure.value, second[i].figure.value) << step;
                EXPECT_EQ(first[i].figure.conditions, second[i].figure.conditions) << step;
            }
        }
    }
}

TEST(PlanOfTwoLoads, TellsTheHeatOfEach) {
    const runner::PlannedRun plan = runner::planned(plan_of(into_both()));
    ASSERT_EQ(plan.loads.size(), 4U);
    for (const runner::PlannedLoad& load : plan.loads) {
        EXPECT_NEAR(load.heat.highest, 20.0, 0.5)
            << load.channel << " " << load.resistance.in<Ohms>();
    }
}

}  // namespace
}  // namespace afterload::test
