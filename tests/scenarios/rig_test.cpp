// A property over rigs: the same unit on rigs that get worse and say so. A good unit is never
// failed, a gross fault is failed even on the worst, and no verdict becomes a pass because the rig
// got worse.
#include "analysis/level.hpp"
#include "tests/support/simulated_run.hpp"

#include <gtest/gtest.h>

#include <map>
#include <string>

namespace afterload::test {
namespace {

using analysis::VerdictKind;

/// Distortion and noise of the rig `times` as large, in truth and in what the bench file states.
void worsen(runner::RunPlan& plan, double times) {
    auto& simulated = *plan.bench.simulated;
    const Gain by = gain_of(AmplitudeRatio{times});
    simulated.source_distortion =
        times * simulated.source_distortion.value_or(AmplitudeRatio{1.0e-5});
    simulated.input_distortion =
        times * simulated.input_distortion.value_or(AmplitudeRatio{1.8e-5});
    simulated.card_noise = simulated.card_noise.value_or(DbFs{-105.0}) + by;
    for (auto& range : plan.bench.ranges) {
        for (auto& own : range.own_distortion) {
            own.source = times * own.source;
            own.input = times * own.input;
        }
        for (auto* noise : {&range.own_noise, &range.own_noise_a}) {
            if (*noise) {
                **noise = times * **noise;
            }
        }
    }
}

std::map<std::string, VerdictKind> verdicts(double times,
                                            const std::vector<sequences::FaultEntry>& faults) {
    const TemporaryFolder folder;
    SimulatedRun wanted;
    wanted.bench = "benches/north-48k.bench.yaml";
    wanted.set = {{"quiet_record", "1 s"}};
    wanted.change = [&](runner::RunPlan& plan) {
        plan.bench.simulated->faults = faults;
        worsen(plan, times);
    };
    const auto run = carry_out(wanted, folder.path());
    std::map<std::string, VerdictKind> all;
    for (const auto& step : run.document.steps) {
        for (const auto& scored : step.figures) {
            if (scored.verdict) {
                all[scored.id] = scored.verdict->kind;
            }
        }
    }
    EXPECT_FALSE(all.empty()) << run.document.stop_reason;
    return all;
}

const std::vector<double> rigs{1.0, 3.0, 10.0, 30.0, 100.0};

TEST(Rigs, AGoodUnitIsNotFailedOnAnyAndNoVerdictBecomesAPassOnAWorseOne) {
    std::map<std::string, VerdictKind> before;
    for (const double times : rigs) {
        SCOPED_TRACE("rig " + std::to_string(times) + " times worse");
        const auto now = verdicts(times, {});
        for (const auto& [id, kind] : now) {
            EXPECT_NE(kind, VerdictKind::fail) << id;
            const auto was = before.find(id);
            if (was != before.end() && kind == VerdictKind::pass) {
                EXPECT_EQ(was->second, VerdictKind::pass) << id;
            }
        }
        before = now;
    }
}

TEST(Rigs, AGrossFaultFailsEvenOnARigThirtyTimesWorse) {
    const std::vector<sequences::FaultEntry> gross{
        {"starved_bias", Channels::left, 1.0, {}, {}},
        {"dried_coupling_capacitor", Channels::right, 1.0, {}, {}}};
    for (const double times : {1.0, 10.0, 30.0}) {
        SCOPED_TRACE("rig " + std::to_string(times) + " times worse");
        bool distortion = false;
        bool bass = false;
        for (const auto& [id, kind] : verdicts(times, gross)) {
            const bool failed = kind == VerdictKind::fail;
            distortion = distortion ||
                         (failed && id.find("/thd/") != std::string::npos && id.ends_with("left"));
            bass = bass || (failed && id.find("frequency_response") != std::string::npos &&
                            id.ends_with("right"));
            if (id.find("/thd/") != std::string::npos && id.ends_with("right")) {
                EXPECT_NE(kind, VerdictKind::fail) << id;
            }
        }
        EXPECT_TRUE(distortion);
        EXPECT_TRUE(bass);
    }
}

}  // namespace
}  // namespace afterload::test
