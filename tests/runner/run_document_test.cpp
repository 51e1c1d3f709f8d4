#include "runner/papers/run_document.hpp"

#include "tests/runner/sample_run.hpp"

#include <gtest/gtest.h>

namespace afterload::runner {
namespace {

using analysis::Verdict;
using analysis::VerdictKind;

RunDocument run_of(const std::vector<VerdictKind>& kinds, RunState state = RunState::done) {
    RunDocument run;
    run.state = state;
    run.steps.emplace_back();
    for (const VerdictKind kind : kinds) {
        ScoredFigure entry;
        entry.verdict = Verdict{kind, 0.0, 0.0, 0.0, ""};
        run.steps.back().figures.push_back(entry);
    }
    conclude(run);
    return run;
}

TEST(RunDocument, OneFailingFigureFailsTheRun) {
    const RunDocument run =
        run_of({VerdictKind::pass, VerdictKind::fail, VerdictKind::not_resolvable});
    EXPECT_EQ(run.verdict, RunVerdict::fail);
    EXPECT_EQ(exit_status(run), 1);
    EXPECT_EQ(run.counts.at("fail"), 1);
    EXPECT_EQ(run.counts.at("not_resolvable"), 1);
}

TEST(RunDocument, PassesAndConditionalPassesPassTheRun) {
    const RunDocument run = run_of({VerdictKind::pass, VerdictKind::conditional_pass});
    EXPECT_EQ(run.verdict, RunVerdict::pass);
    EXPECT_EQ(exit_status(run), 0);
}

TEST(RunDocument, NotComparableIsCountedAndDoesNotDecide) {
    const RunDocument run = run_of({VerdictKind::pass, VerdictKind::not_comparable});
    EXPECT_EQ(run.verdict, RunVerdict::pass);
    EXPECT_EQ(run.counts.at("not_comparable"), 1);
    EXPECT_EQ(run_of({VerdictKind::not_comparable}).verdict, RunVerdict::inconclusive);
}

TEST(RunDocument, NothingScoredIsInconclusive) {
    const RunDocument run = run_of({});
    EXPECT_EQ(run.verdict, RunVerdict::inconclusive);
    EXPECT_EQ(exit_status(run), 2);
}

TEST(RunDocument, ConditionalFailLeavesTheRunInconclusive) {
    EXPECT_EQ(run_of({VerdictKind::pass, VerdictKind::conditional_fail}).verdict,
              RunVerdict::inconclusive);
    EXPECT_EQ(run_of({VerdictKind::pass, VerdictKind::not_resolvable}).verdict,
              RunVerdict::inconclusive);
}

TEST(RunDocument, StoppedRunIsStoppedWhateverItsFiguresSay) {
    for (const RunState state : {RunState::stopped, RunState::interrupted}) {
        const RunDocument run = run_of({VerdictKind::fail}, state);
        EXPECT_EQ(run.verdict, RunVerdict::stopped);
        EXPECT_EQ(exit_status(run), 3);
    }
}

TEST(RunDocument, CountsAssumedConditionsAndWhatWasNotTested) {
    const RunDocument run = sample_run();
    EXPECT_EQ(run.counts.at("assumed"), 2);
    EXPECT_EQ(run.counts.at("not_tested"), 4);
}

TEST(RunDocument, NamesReadBack) {
    for (const Stage value : {Stage::as_received, Stage::repaired, Stage::soaked, Stage::cold}) {
        EXPECT_EQ(stage(name(value)), value);
    }
    for (const RunState value :
         {RunState::running, RunState::done, RunState::stopped, RunState::interrupted}) {
        EXPECT_EQ(run_state(name(value)), value);
    }
    for (const RunVerdict value :
         {RunVerdict::pass, RunVerdict::fail, RunVerdict::inconclusive, RunVerdict::stopped}) {
        EXPECT_EQ(run_verdict(name(value)), value);
    }
    for (const Blame value : {Blame::unit, Blame::rig, Blame::unit_or_lead, Blame::unit_or_mains}) {
        EXPECT_EQ(blame(name(value)), value);
    }
    EXPECT_EQ(stage("cooked"), std::nullopt);
}

}  // namespace
}  // namespace afterload::runner
