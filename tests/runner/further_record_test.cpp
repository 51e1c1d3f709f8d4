// Which verdicts ask for one further record, and how long a one (design: one further record where
// only noise leaves a verdict open, its length fixed beforehand).
#include "runner/evaluation/further_record.hpp"

#include <gtest/gtest.h>

#include <string>
#include <vector>

namespace afterload::test {
namespace {

using analysis::VerdictKind;
using runner::FurtherRecord;
using runner::ScoredFigure;

constexpr Seconds first{0.5};
constexpr Seconds longest{8.0};

/// THD of 0.009 % at a limit of 0.01 %.
ScoredFigure open_thd(double noise, double systematic) {
    ScoredFigure scored;
    scored.label = "THD 1 W, 1 kHz";
    scored.record = "records/001-1.flac";
    scored.figure.kind = FigureKind::thd;
    scored.figure.value = 9e-5;
    scored.figure.rig_added = 0.0;
    scored.figure.rig_cancelled = 0.0;
    scored.figure.budget = {{"record noise", BudgetLine::Kind::noise, noise},
                            {"range high, left", BudgetLine::Kind::systematic, systematic}};
    scored.verdict = analysis::Verdict{VerdictKind::conditional_pass, 1e-5, 0.0,
                                       expanded(scored.figure.budget), ""};
    return scored;
}

std::vector<FurtherRecord> wanted(const ScoredFigure& scored, Seconds longest_record = longest) {
    return runner::further_records({scored}, {"records/000-1.flac", scored.record}, first,
                                   longest_record);
}

TEST(FurtherRecord, IsAsLongAsTheNoiseNeedsToFallUnderTheMargin) {
    const auto asked = wanted(open_thd(1e-5, 0.0));
    ASSERT_EQ(asked.size(), 1U);
    EXPECT_EQ(asked[0].record, 1U);
    // U must fall from 2 to 1 times the margin: four times as long, and a fifth to spare.
    EXPECT_NEAR(asked[0].length / first, 4.0 * 1.2, 1e-9);
    EXPECT_EQ(asked[0].figure, "THD 1 W, 1 kHz");
}

TEST(FurtherRecord, IsNotMadeWhereTheBenchAndNotTheNoiseLeavesItOpen) {
    EXPECT_TRUE(wanted(open_thd(1e-6, 6e-6)).empty());
}

TEST(FurtherRecord, IsNotMadeWhereItWouldBeTooLong) {
    EXPECT_TRUE(wanted(open_thd(1e-5, 0.0), Seconds{2.0}).empty());
}

TEST(FurtherRecord, IsNotMadeForAVerdictThatIsNotOpen) {
    ScoredFigure decided = open_thd(1e-5, 0.0);
    decided.verdict->kind = VerdictKind::pass;
    EXPECT_TRUE(wanted(decided).empty());
    decided.verdict.reset();
    EXPECT_TRUE(wanted(decided).empty());
}

TEST(FurtherRecord, IsNotMadeWhereAnUnstatedConditionLeavesItOpen) {
    ScoredFigure assumed = open_thd(1e-5, 0.0);
    assumed.figure.assumed = {"weighting"};
    EXPECT_TRUE(wanted(assumed).empty());
}

// None seen in one second bounds the rate of a Poisson process at 3 a second (95 %, 1 - e^-3).
TEST(FurtherRecord, WatchesLongEnoughForARateOfEventsOfWhichNoneWasSeen) {
    ScoredFigure quiet = open_thd(1.5, 0.0);
    quiet.figure.kind = FigureKind::random_steps;
    quiet.figure.value.reset();
    quiet.figure.bound = Bound{3.0, Bound::Side::at_most};
    quiet.verdict = analysis::Verdict{VerdictKind::not_resolvable, 2.0 - 3.0, 0.0, 3.0, ""};
    const auto asked = wanted(quiet);
    ASSERT_EQ(asked.size(), 1U);
    EXPECT_NEAR(asked[0].length / first, 1.5 * 1.2, 1e-9);
    // Where steps were seen and too many to tell apart no longer record helps.
    quiet.figure.bound->side = Bound::Side::at_least;
    EXPECT_TRUE(wanted(quiet).empty());
}

}  // namespace
}  // namespace afterload::test
