// No healthy unit fails, and none is given a hint: specimens drawn with the unit seed, on rigs
// drawn with the rig seed, through the whole final verification. The slow program draws 200, the
// ordinary one a few of the same.
#include "runner/hints/hints.hpp"
#include "sequences/hint_reader.hpp"
#include "tests/support/simulated_run.hpp"

#include <gtest/gtest.h>

namespace afterload::test {
namespace {

constexpr int units_a_test = 2;

class HealthyUnits : public testing::TestWithParam<int> {};

TEST_P(HealthyUnits, AreNeverFailedAndGiveNoHint) {
    for (int i = 0; i < units_a_test; ++i) {
        const auto seed = static_cast<std::uint64_t>(GetParam() * units_a_test + i + 100);
        SCOPED_TRACE("unit seed " + std::to_string(seed));
        const TemporaryFolder folder;
        SimulatedRun wanted;
        wanted.sequence = "final-verification";
        wanted.bench = "benches/north-48k.bench.yaml";
        wanted.set = {{"top", "5997 Hz"}, {"dwell", "1 s"}};
        wanted.change = [seed](runner::RunPlan& plan) {
            plan.bench.simulated->unit_seed = seed;
            plan.bench.simulated->rig_seed = seed + 1000;
            plan.bench.simulated->run_seed = seed + 2000;
        };
        const auto run = carry_out(wanted, folder.path());
        const auto hints = runner::hints_for(run.document, sequences::shipped_hints());
        EXPECT_TRUE(hints.hints.empty()) << hints.hints.front().name;
        EXPECT_TRUE(hints.set_aside.empty());
        EXPECT_EQ(run.document.verdict, runner::RunVerdict::pass) << run.document.stop_reason;
        for (const auto& step : run.document.steps) {
            for (const auto& scored : step.figures) {
                if (scored.verdict) {
                    EXPECT_NE(scored.verdict->kind, analysis::VerdictKind::fail)
                        << scored.id << " " << scored.figure.value.value_or(-1.0) << " "
                        << scored.verdict->reason;
                }
            }
        }
    }
}

#ifdef AFTERLOAD_ALL_HEALTHY_UNITS
INSTANTIATE_TEST_SUITE_P(AllSeeds, HealthyUnits, testing::Range(0, 200 / units_a_test));
#else
INSTANTIATE_TEST_SUITE_P(SomeSeeds, HealthyUnits, testing::Range(0, 2 / units_a_test));
#endif

}  // namespace
}  // namespace afterload::test
