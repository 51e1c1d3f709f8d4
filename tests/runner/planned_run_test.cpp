// What a plan says before anything is driven, held against the runs that then are: no run takes
// longer or drives a load harder than its plan allows, and a healthy unit takes about what it says.
#include "runner/plan/planned_run.hpp"

#include "runner/papers/terminal_text.hpp"
#include "runner/plan/plan_text.hpp"
#include "tests/support/simulated_run.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <sstream>
#include <string>

namespace afterload::test {
namespace {

using runner::PlannedRun;
using testing::HasSubstr;

struct PlannedAndDone {
    PlannedRun planned;
    runner::RunDocument done;
};

PlannedAndDone planned_and_done(const SimulatedRun& wanted) {
    const TemporaryFolder folder;
    return {runner::planned(plan_of(wanted)), carry_out(wanted, folder.path()).document};
}

SimulatedRun final_verification() {
    SimulatedRun wanted;
    wanted.sequence = "final-verification";
    wanted.bench = "benches/north-48k.bench.yaml";
    wanted.set = {{"top", "5997 Hz"}, {"dwell", "1 s"}};
    return wanted;
}

void expect_within_bounds(const PlannedAndDone& both) {
    ASSERT_EQ(both.done.steps.size(), both.planned.steps.size());
    for (std::size_t i = 0; i < both.done.steps.size(); ++i) {
        SCOPED_TRACE(both.done.steps[i].name);
        EXPECT_EQ(both.done.steps[i].name, both.planned.steps[i].name);
        // What a person and a relay take is said to come on top.
        const Seconds driven =
            both.done.steps[i].bench_time.total() - both.done.steps[i].bench_time.other;
        EXPECT_LE(driven.in<Seconds>(), both.planned.steps[i].at_most.in<Seconds>());
        for (const auto& scored : both.done.steps[i].figures) {
            if (scored.figure.kind == FigureKind::output_power && scored.figure.value) {
                const auto& heat = both.planned.steps[i].heat;
                EXPECT_LE(*scored.figure.value - expanded(scored.figure.budget),
                          std::max(heat[0].highest, heat[1].highest))
                    << scored.id;
            }
        }
    }
}

TEST(PlannedRun, NoStepOfAHealthyUnitTakesLongerOrMorePowerThanThePlanAllows) {
    expect_within_bounds(planned_and_done(final_verification()));
}

TEST(PlannedRun, NorDoesOneWhoseRecordsAreTakenAgain) {
    SimulatedRun wanted = final_verification();
    wanted.change = [](runner::RunPlan& plan) {
        plan.bench.simulated->faults = {{"lost_frames", Channels::both, 1.0, Seconds{6.0}, {}},
                                        {"lost_frames", Channels::both, 1.0, Seconds{12.0}, {}},
                                        {"lost_frames", Channels::both, 1.0, Seconds{18.0}, {}}};
    };
    expect_within_bounds(planned_and_done(wanted));
}

// The gain of a unit is not known before it is driven, so the looks on the way to a level are a
// guess; records and dwell are not.
TEST(PlannedRun, AHealthyUnitTakesAboutWhatItSays) {
    const PlannedAndDone both = planned_and_done(final_verification());
    runner::BenchTime done;
    for (const auto& step : both.done.steps) {
        done += step.bench_time;
    }
    EXPECT_NEAR(done.recording.in<Seconds>(), both.planned.about.recording.in<Seconds>(),
                0.02 * both.planned.about.recording.in<Seconds>());
    EXPECT_NEAR(done.dwell.in<Seconds>(), both.planned.about.dwell.in<Seconds>(), 0.1);
    EXPECT_NEAR((done.total() - done.other).in<Seconds>(), both.planned.about.total().in<Seconds>(),
                0.3 * both.planned.about.total().in<Seconds>());
    EXPECT_LT(both.planned.about.total().in<Seconds>(), both.planned.at_most.in<Seconds>());
}

TEST(PlannedRun, TheHeatOfALoadIsThatOfTheStepsTogether) {
    const PlannedRun planned = runner::planned(plan_of(final_verification()));
    ASSERT_EQ(planned.loads.size(), 2U);
    runner::PlannedHeat sum;
    for (const auto& step : planned.steps) {
        sum.about += step.heat[0].about;
        sum.at_most += step.heat[0].at_most;
    }
    EXPECT_DOUBLE_EQ(planned.loads[0].heat.about, sum.about);
    EXPECT_DOUBLE_EQ(planned.loads[0].heat.at_most, sum.at_most);
    // The search for the largest power ends 1 dB over the rated 40 W.
    EXPECT_NEAR(planned.loads[0].heat.highest, 40.0 * std::pow(10.0, 0.1), 0.1);
}

TEST(PlanText, NamesEachStepItsPromptWhatItAnswersAndTheLoads) {
    const PlannedRun planned = runner::planned(plan_of(final_verification()));
    const std::string text = runner::plan_text(planned, {80, false, true});
    EXPECT_THAT(text, HasSubstr("Nothing is driven now."));
    EXPECT_THAT(text, HasSubstr("prompt: Controls for the direct path"));
    EXPECT_THAT(text, HasSubstr("Load left (8.02 Ω, 100 W continuous)"));
    for (const auto& step : planned.steps) {
        EXPECT_THAT(text, HasSubstr(step.name.substr(0, 40)));
    }
    std::istringstream lines{text};
    for (std::string line; std::getline(lines, line);) {
        EXPECT_LE(runner::columns(line), 80U) << line;
    }
}

}  // namespace
}  // namespace afterload::test
