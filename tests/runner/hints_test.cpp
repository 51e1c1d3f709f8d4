// Hints: rules held against the facts of a run, without a bench.
#include "runner/hints/hints.hpp"

#include "runner/hints/hint_facts.hpp"
#include "runner/hints/hint_json.hpp"
#include "runner/hints/hint_text.hpp"
#include "runner/hints/report_hints.hpp"
#include "sequences/hint_reader.hpp"
#include "tests/runner/sample_run.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

namespace afterload::runner {
namespace {

using analysis::VerdictKind;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;
using testing::SizeIs;

constexpr double exact = 1e-12;

sequences::HintRules rules(const std::string& text) {
    auto read = sequences::read_hints("afterload: hints/1\n" + text, "test.hints.yaml");
    if (!read) {
        ADD_FAILURE() << sequences::text(read.error());
        return {};
    }
    return *std::move(read);
}

const std::string facts = R"(facts:
  - {fact: hum, words: hum, figure: hum_voltage, volume: maximum}
  - {fact: bass, words: response at 20 Hz, figure: frequency_response, frequency: 20 Hz, path: direct}
  - {fact: mains, words: mains re the unit's own, reading: mains_voltage, from: nominal}
  - {fact: louder, words: balance, figure: channel_balance}
  - {fact: silent, words: no output was seen, told: no output seen}
)";

std::string hint(const std::string& name, const std::string& about, const std::string& rest,
                 const std::string& when) {
    return "  - hint: " + name + "\n    about: " + about +
           "\n    family: some\n    explains: [hum_voltage]\n" + rest + "    when:\n      - " +
           when +
           "\n    usually: this <b>means</b> something\n    look: somewhere\n    separates: a "
           "test\n";
}

struct Hum {
    double left = 0.0;
    double right = 0.0;
    double u_k1 = 0.0;
    double rig = 0.0;
    VerdictKind verdict = VerdictKind::fail;
};

ScoredFigure hum_of(int channel, double value, const Hum& hum) {
    ScoredFigure scored;
    scored.id = channel == 1 ? "quiet/hum/left" : "quiet/hum/right";
    scored.figure.kind = FigureKind::hum_voltage;
    scored.figure.channel = channel;
    scored.figure.value = value;
    scored.figure.budget = {{"noise", BudgetLine::Kind::noise, hum.u_k1}};
    scored.figure.rig_added = hum.rig;
    scored.figure.rig_cancelled = hum.rig;
    scored.figure.conditions.volume = "maximum";
    scored.verdict = analysis::Verdict{};
    scored.verdict->kind = hum.verdict;
    return scored;
}

RunDocument run_with(const Hum& hum) {
    RunDocument run;
    run.unit.mains_voltage = 230.0;
    StepResult step;
    step.figures = {hum_of(1, hum.left, hum), hum_of(2, hum.right, hum)};
    step.readings.push_back({"mains_voltage", Channels::both, 230.0, 0.5, "meter", false, ""});
    run.steps.push_back(step);
    return run;
}

TEST(HintFacts, TakeTheFigureThatWasMeasuredUnderTheirConditions) {
    RunDocument run = run_with({1e-3, 2e-3});
    ScoredFigure other = hum_of(1, 9e-3, {});
    other.figure.conditions.volume = "zero";
    run.steps[0].figures.insert(run.steps[0].figures.begin(), other);
    const HintFacts found{run, rules(facts + "hints: []\n")};
    EXPECT_EQ(found.of("hum").channels[0]->value, 1e-3);
    EXPECT_EQ(found.of("hum").channels[1]->value, 2e-3);
    EXPECT_FALSE(found.of("bass").channels[0].has_value());
}

TEST(HintFacts, AreAsFarOffAsTheirUncertaintyAndTheRig) {
    const HintFacts found{run_with({1e-3, 2e-3, 1e-4, 3e-4}), rules(facts + "hints: []\n")};
    EXPECT_NEAR(found.of("hum").channels[0]->low, 1e-3 - 2e-4 - 3e-4, exact);
    EXPECT_NEAR(found.of("hum").channels[0]->high, 1e-3 + 2e-4 + 3e-4, exact);
}

TEST(HintFacts, TakeAPointOfACurve) {
    RunDocument run = run_with({});
    ScoredFigure response;
    response.figure.kind = FigureKind::frequency_response;
    response.figure.channel = 2;
    response.figure.conditions.path = "direct";
    response.figure.conditions.frequency = Hertz{20000.0};  // of its worst point
    response.figure.curve = Curve{{10.0, 40.0, 1000.0}, {-4.0, -2.0, 0.0}, {}, {0.01, 0.02, 0.01}};
    run.steps[0].figures.push_back(response);
    const HintFacts found{run, rules(facts + "hints: []\n")};
    EXPECT_NEAR(found.of("bass").channels[1]->value, -3.0, exact);  // half way over log f
    EXPECT_NEAR(found.of("bass").channels[1]->low, -3.04, exact);
    EXPECT_FALSE(found.of("bass").channels[0].has_value());
}

TEST(HintFacts, ABalanceIsThatOfTheOwnChannelOverTheOther) {
    RunDocument run = run_with({});
    ScoredFigure balance;
    balance.figure.kind = FigureKind::channel_balance;
    balance.figure.pair = {1, 2};
    balance.figure.value = 1.5;
    run.steps[0].figures.push_back(balance);
    const HintFacts found{run, rules(facts + "hints: []\n")};
    EXPECT_EQ(found.of("louder").channels[0]->value, 1.5);
    EXPECT_EQ(found.of("louder").channels[1]->value, -1.5);
}

TEST(HintFacts, WordsOfTheRunSpeakOfTheSideTheyName) {
    RunDocument run = run_with({});
    run.notes = {"level: right: no output seen at 997 Hz"};
    const HintFacts found{run, rules(facts + "hints: []\n")};
    EXPECT_EQ(found.of("silent").channels[0]->value, 0.0);
    EXPECT_EQ(found.of("silent").channels[1]->value, 1.0);
}

TEST(HintFacts, AQuotientIsOpenWhereItsDivisorCanBeNothing) {
    const FactValue one{1.0, 0.9, 1.1, false};
    const FactValue small{0.1, -0.1, 0.3, false};
    const auto found = quotient(one, small);
    ASSERT_TRUE(found.has_value());
    EXPECT_NEAR(found->value, 10.0, exact);
    EXPECT_NEAR(found->low, 3.0, exact);
    EXPECT_GT(found->high, 1e300);
    EXPECT_FALSE(quotient(one, FactValue{0.0, 0.0, 0.0, false}).has_value());
}

const std::string hum_rule =
    facts + "hints:\n" + hint("hum", "unit", "    channels: one\n", "{fact: hum, at_least: 1 mV}");

TEST(Hints, NameTheChannelThatAlonePatternHolds) {
    const Hints found = hints_for(run_with({0.1e-3, 2e-3}), rules(hum_rule));
    ASSERT_THAT(found.hints, SizeIs(1));
    EXPECT_EQ(found.hints[0].where, "right");
    EXPECT_THAT(found.hints[0].evidence, ElementsAre("hum: right 2 mV (at least 1 mV)"));
    EXPECT_THAT(found.hints[0].figures, ElementsAre("quiet/hum/right"));
    EXPECT_THAT(hints_for(run_with({2e-3, 2e-3}), rules(hum_rule)).hints, IsEmpty());
}

TEST(Hints, HoldOnlyAfterUncertaintyAndRigAreTakenOff) {
    EXPECT_THAT(hints_for(run_with({0.1e-3, 2e-3, 0.1e-3, 0.7e-3}), rules(hum_rule)).hints,
                SizeIs(1));
    EXPECT_THAT(hints_for(run_with({0.1e-3, 2e-3, 0.1e-3, 0.9e-3}), rules(hum_rule)).hints,
                IsEmpty());
}

TEST(Hints, NeedAFigureThatFailedUnlessTheRuleSaysOtherwise) {
    const RunDocument passed = run_with({0.1e-3, 2e-3, 0.0, 0.0, VerdictKind::pass});
    EXPECT_THAT(hints_for(passed, rules(hum_rule)).hints, IsEmpty());
    const std::string even = facts + "hints:\n" +
                             hint("hum", "unit", "    channels: one\n    even_if_passed: true\n",
                                  "{fact: hum, at_least: 1 mV}");
    EXPECT_THAT(hints_for(passed, rules(even)).hints, SizeIs(1));
}

TEST(Hints, WhatSpeaksAgainstOneLowersItsConfidenceAndIsShown) {
    const std::string with =
        hum_rule +
        "    confidence: high\n    against:\n      - {fact: hum, of: other, at_most: 1 mV}\n";
    const Hints found = hints_for(run_with({0.1e-3, 2e-3}), rules(with));
    ASSERT_THAT(found.hints, SizeIs(1));
    EXPECT_EQ(found.hints[0].confidence, sequences::HintConfidence::medium);
    EXPECT_THAT(found.hints[0].counter_evidence, ElementsAre("hum: left 0.1 mV (at most 1 mV)"));
}

TEST(Hints, ARigOfWhichNothingIsKnownSpeaksAgainstAFaultOfTheUnit) {
    RunDocument run = run_with({0.1e-3, 2e-3});
    run.steps[0].figures[1].figure.rig_added.reset();
    const Hints found = hints_for(run, rules(hum_rule));
    ASSERT_THAT(found.hints, SizeIs(1));
    EXPECT_THAT(found.hints[0].counter_evidence, ElementsAre(HasSubstr("a rig check comes first")));
}

TEST(Hints, WhatTheRigExplainsIsNotLaidToTheUnit) {
    const std::string both =
        hum_rule + hint("leads", "rig", "    channels: both\n", "{fact: hum, at_least: 0.05 mV}");
    const Hints found = hints_for(run_with({0.1e-3, 2e-3}), rules(both));
    ASSERT_THAT(found.hints, SizeIs(1));
    EXPECT_EQ(found.hints[0].name, "leads");
    EXPECT_EQ(found.hints[0].where, "");
    ASSERT_THAT(found.set_aside, SizeIs(1));
    EXPECT_EQ(found.set_aside[0].name, "hum");
}

TEST(Hints, ADoubtfulControlComesBehindTheUnitAndSetsNothingAside) {
    const std::string both =
        hum_rule + hint("knob", "control", "    channels: both\n    confidence: low\n",
                        "{fact: hum, at_least: 0.05 mV}");
    const Hints found = hints_for(run_with({0.1e-3, 2e-3}), rules(both));
    ASSERT_THAT(found.hints, SizeIs(2));
    EXPECT_EQ(found.hints[0].name, "hum");
    EXPECT_EQ(found.hints[1].name, "knob");
    EXPECT_THAT(found.set_aside, IsEmpty());
}

TEST(Hints, OfASampleThatPassesAreNone) {
    RunDocument run = passing_run();
    for (StepResult& step : run.steps) {
        step.events.clear();  // one of them says that a channel's level moved
    }
    const Hints found = hints_for(run, sequences::shipped_hints());
    EXPECT_THAT(found.hints, IsEmpty()) << found.hints.front().name;
}

TEST(HintText, OfASheetSaysWhereToLookWhatItMeansAndWhatTells) {
    const Hints found = hints_for(run_with({0.1e-3, 2e-3}), rules(hum_rule));
    const std::string lines = look_first(found, "runs/1", Terminal{});
    EXPECT_THAT(lines, HasSubstr("Look first\n  1  right: somewhere (medium)\n"));
    EXPECT_THAT(lines, HasSubstr("     this tells   a test\n"));
    EXPECT_THAT(lines, HasSubstr("afterload show runs/1 hints"));
    EXPECT_EQ(look_first({}, "runs/1", Terminal{}), "");
}

TEST(HintText, WithAllSaysWhatSpeaksForAndAgainst) {
    const Hints found = hints_for(run_with({0.1e-3, 2e-3}), rules(hum_rule));
    const std::string lines = hints_text(found, Terminal{});
    EXPECT_THAT(lines, HasSubstr("     for          hum: right 2 mV (at least 1 mV)\n"));
    EXPECT_THAT(lines, HasSubstr("     behind       quiet/hum/right\n"));
    EXPECT_THAT(hints_of_figure(found, "quiet/hum/right", Terminal{}), HasSubstr("somewhere"));
    EXPECT_EQ(hints_of_figure(found, "quiet/hum/left", Terminal{}), "");
}

TEST(HintText, FromARulesFileReachesNeitherTerminalNorPageAsMoreThanText) {
    Hints found = hints_for(run_with({0.1e-3, 2e-3}), rules(hum_rule));
    found.hints[0].look = "here\x1b[31m\xe2\x80\xae";
    EXPECT_THAT(look_first(found, "", Terminal{}), Not(HasSubstr("\x1b[31m")));
    Html html;
    put_hints(html, found);
    EXPECT_THAT(html.str(), HasSubstr("this &lt;b&gt;means&lt;/b&gt;"));
    EXPECT_THAT(html.str(), Not(HasSubstr("\x1b")));
    EXPECT_THAT(html.str(), Not(HasSubstr("\xe2\x80\xae")));
}

TEST(HintJson, HasEvidenceAndCounterEvidence) {
    const RunDocument run = run_with({0.1e-3, 2e-3});
    const Json document = hints_json(run, hints_for(run, rules(hum_rule)));
    EXPECT_EQ(document.at("schema"), "afterload/hints/1");
    const Json& one = document.at("hints").at(0);
    EXPECT_EQ(one.at("about"), "unit");
    EXPECT_EQ(one.at("where"), "right");
    EXPECT_EQ(one.at("evidence").size(), 1U);
    EXPECT_EQ(one.at("counter_evidence").size(), 0U);
}

}  // namespace
}  // namespace afterload::runner
