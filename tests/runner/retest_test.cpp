// Which steps measure again what a run left open, and what the person and the path need for them.
#include "runner/retest/retest_steps.hpp"
#include "sequences/sequence_reader.hpp"
#include "tests/sequences/file_text.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>
#include <vector>

namespace afterload::runner {
namespace {

using analysis::VerdictKind;
using testing::ElementsAre;
using testing::IsEmpty;
using testing::Pair;
using testing::UnorderedElementsAre;

sequences::Sequence final_verification() {
    const std::string path = "sequences/shipped/final-verification.sequence.yaml";
    auto sequence =
        sequences::read_sequence(sequences::file_text(sequences::source_path(path)), path);
    EXPECT_TRUE(sequence);
    return sequence ? *std::move(sequence) : sequences::Sequence{};
}

ScoredFigure figure(const std::string& step, FigureKind kind, VerdictKind verdict) {
    ScoredFigure out;
    out.id = step + "/" + std::string{name(kind)};
    out.label = name(kind);
    out.figure.kind = kind;
    out.figure.channel = 1;
    out.verdict = analysis::Verdict{};
    out.verdict->kind = verdict;
    return out;
}

/// A run of the whole sequence in which every step has one figure that passes, but those of `open`.
RunDocument run_with(const sequences::Sequence& sequence,
                     const std::vector<std::pair<std::string, VerdictKind>>& open) {
    RunDocument run;
    run.id = "earlier";
    run.state = RunState::done;
    for (const sequences::Step& step : sequence.steps) {
        StepResult result;
        result.name = step.name;
        VerdictKind verdict = VerdictKind::pass;
        for (const auto& [name, kind] : open) {
            verdict = name == step.name ? kind : verdict;
        }
        result.figures.push_back(figure(step.name, FigureKind::thd, verdict));
        run.steps.push_back(std::move(result));
    }
    conclude(run);
    return run;
}

std::vector<std::string> names(const RetestOf& retest) {
    std::vector<std::string> out;
    for (const StepAgain& step : retest.steps) {
        out.push_back(step.step);
    }
    return out;
}

TEST(Retest, OfARunThatPassedHasNoSteps) {
    const auto sequence = final_verification();
    EXPECT_THAT(retest_of(run_with(sequence, {}), sequence).steps, IsEmpty());
}

TEST(Retest, MeasuresWhatFailedBehindTheGateOfTheOffset) {
    const auto sequence = final_verification();
    const auto retest =
        retest_of(run_with(sequence, {{"tone path, full output", VerdictKind::fail}}), sequence);
    EXPECT_THAT(names(retest), ElementsAre("controls and offset", "tone path, full output"));
    EXPECT_THAT(retest.steps[0].because, ElementsAre("tone path, full output depends on it"));
    EXPECT_THAT(retest.steps[1].because, ElementsAre("thd, left: fail"));
    EXPECT_EQ(retest.stands.size(), sequence.steps.size() - 2);
}

TEST(Retest, MeasuresWhatWasLeftOpenAndNotWhatLacksACondition) {
    const auto sequence = final_verification();
    for (const auto& [verdict, again] : {std::pair{VerdictKind::not_resolvable, true},
                                         std::pair{VerdictKind::conditional_fail, true},
                                         std::pair{VerdictKind::conditional_pass, false},
                                         std::pair{VerdictKind::not_comparable, false}}) {
        const auto retest =
            retest_of(run_with(sequence, {{"distortion at low level", verdict}}), sequence);
        EXPECT_EQ(!retest.steps.empty(), again) << analysis::name(verdict);
    }
}

TEST(Retest, WhatStandsAfterAStepBringsThatStep) {
    // Some noise only exists warm: without the power before it, it would be another noise.
    const auto sequence = final_verification();
    const auto retest =
        retest_of(run_with(sequence, {{"quiet again, after power", VerdictKind::fail}}), sequence);
    EXPECT_THAT(names(retest), testing::Contains("power"));
    const auto gain =
        std::ranges::find(retest.steps, "response, balance, separation", &StepAgain::step);
    ASSERT_NE(gain, retest.steps.end()) << "its signal-to-noise needs the gain of the path";
    EXPECT_THAT(gain->because, ElementsAre("quiet again, after power depends on it"));
}

TEST(Retest, MeasuresWhatARunThatWasStoppedDidNotReach) {
    const auto sequence = final_verification();
    RunDocument run = run_with(sequence, {});
    run.state = RunState::stopped;
    run.steps.resize(run.steps.size() - 2);
    run.steps.back().skipped = "skipped at its prompt";
    const auto retest = retest_of(run, sequence);
    const auto because = [&](std::size_t from_the_end) {
        const std::string& name = sequence.steps[sequence.steps.size() - from_the_end].name;
        const auto found = std::ranges::find(retest.steps, name, &StepAgain::step);
        return found == retest.steps.end() ? std::vector<std::string>{} : found->because;
    };
    EXPECT_THAT(because(1), testing::Contains("was not reached"));
    EXPECT_THAT(because(2), testing::Contains("was not reached"));
    EXPECT_THAT(because(3), testing::Contains("skipped at its prompt"));
}

TEST(Retest, APersonSetsOnceWhatTheStepsLeftOutWouldHaveSet) {
    const auto sequence = final_verification();
    const auto retest = retest_of(
        run_with(sequence, {{"distortion at rated output", VerdictKind::fail}}), sequence);
    const auto fewer = reduced(sequence, retest);
    ASSERT_TRUE(fewer);
    ASSERT_EQ(fewer->steps.size(), 2U);
    const sequences::Step& step = fewer->steps[1];
    ASSERT_TRUE(step.prompt);
    EXPECT_EQ(step.prompt->title, "Direct path again");
    EXPECT_THAT(step.prompt->controls,
                UnorderedElementsAre(Pair("tone", "defeat"), Pair("bass", "centre"),
                                     Pair("treble", "centre")));
    EXPECT_THAT(step.prompt->cautions, UnorderedElementsAre("hot_load", "stay_at_the_bench"));
    EXPECT_EQ(step.path, "direct");
    EXPECT_EQ(step.volume, "maximum");
    EXPECT_EQ(step.input, "line");
}

TEST(Retest, OfAllStepsIsTheSequenceItself) {
    const auto sequence = final_verification();
    RetestOf all;
    for (const sequences::Step& step : sequence.steps) {
        all.steps.push_back({step.name, {"wanted"}});
    }
    const auto same = reduced(sequence, all);
    ASSERT_TRUE(same);
    ASSERT_EQ(same->steps.size(), sequence.steps.size());
    for (std::size_t i = 0; i < sequence.steps.size(); ++i) {
        EXPECT_EQ(same->steps[i].path, sequence.steps[i].path);
        EXPECT_EQ(same->steps[i].prompt.has_value(), sequence.steps[i].prompt.has_value());
    }
}

TEST(Retest, AStepThatTheSequenceHasNotIsNamed) {
    RetestOf retest;
    retest.steps.push_back({"loudness", {"wanted"}});
    const auto none = reduced(final_verification(), retest);
    ASSERT_FALSE(none);
    EXPECT_THAT(none.error(), testing::HasSubstr("“loudness”"));
}

TEST(Retest, OfARetestDoesNotMissWhatThatLeftOut) {
    const auto sequence = final_verification();
    RunDocument first = run_with(sequence, {{"power", VerdictKind::fail}});
    const RetestOf retest = retest_of(first, sequence);
    RunDocument second = run_with(*reduced(sequence, retest), {{"power", VerdictKind::fail}});
    second.retest = retest;
    EXPECT_THAT(names(retest_of(second, sequence)), ElementsAre("controls and offset", "power"));
    EXPECT_EQ(retest_of(second, sequence).stands.size(), retest.stands.size());
}

}  // namespace
}  // namespace afterload::runner
