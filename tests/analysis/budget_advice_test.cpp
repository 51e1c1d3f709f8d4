#include "analysis/budget_advice.hpp"

#include "analysis/measure.hpp"
#include "tests/analysis/bench_and_fit.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

namespace afterload::analysis {
namespace {

using Kind = BudgetLine::Kind;
using testing::HasSubstr;
using testing::StartsWith;

std::string advice(Budget budget, FigureKind kind = FigureKind::output_voltage) {
    Figure figure;
    figure.kind = kind;
    figure.value = 1.0;
    figure.budget = std::move(budget);
    return what_would_shrink(figure);
}

TEST(BudgetAdvice, NamesTheLargestLineItsShareAndWhatIsLeft) {
    // Lines of 3, 4 and 12: 144 of 169 is 85 %; U 26 of which 10 would be left.
    EXPECT_EQ(advice({{"record noise", Kind::noise, 0.3},
                      {"load left, 2026-03-02", Kind::systematic, 1.2},
                      {"range high, left, 2026-03-02", Kind::systematic, 0.4}},
                     FigureKind::output_power),
              "85 % of the variance is load left, 2026-03-02: measure the load with four wires. "
              "Without it U "
              "would be 1 W instead of 2.6 W.");
}

TEST(BudgetAdvice, SaysHowMuchLongerToRecord) {
    // Noise of 4 beside 2 of the rest: (4/2)² times as long and the two are alike.
    EXPECT_THAT(advice({{"record noise", Kind::noise, 4e-3}, {"level", Kind::systematic, 2e-3}}),
                HasSubstr("a record 4 times as long brings it down to the size of all the rest"));
    EXPECT_EQ(advice({{"record noise", Kind::noise, 4e-3}}),
              "All of the variance is record noise: a record four times as long halves it.");
}

TEST(BudgetAdvice, KnowsACureForEachPartOfTheBench) {
    const auto one = [](const char* source) {
        return advice({{source, Kind::systematic, 1.0}, {"record noise", Kind::noise, 0.1}});
    };
    EXPECT_THAT(one("load left, 2026-03-02, its own heat"), HasSubstr("hot"));
    EXPECT_THAT(one("stated load"), HasSubstr("bench file"));
    EXPECT_THAT(one("range high, left, 2026-03-02"),
                HasSubstr("calibrate range high against the meter"));
    EXPECT_THAT(one("range high, left against right, 2026-03-02"), HasSubstr("balance"));
    EXPECT_THAT(one("source level, 2026-03-02"), HasSubstr("source's level"));
    EXPECT_THAT(one("flatness of the rig"), HasSubstr("over frequency"));
    EXPECT_THAT(one("gain over the last step"), HasSubstr("nearer to the rated output"));
    EXPECT_THAT(one("straight line between two points"), HasSubstr("closer together"));
    EXPECT_THAT(one("typed in"), HasSubstr("better one"));
}

TEST(BudgetAdvice, OfTheShopsPowerIsToMeasureTheLoadHot) {
    // 0.7 % of volts, 1 % and 1.5 % of the load: the heat is 2.25 of 5.21 parts, 43 %.
    const ToneFit fit = test::fit_of(10.0);
    const BenchShare bench = test::shop_bench();
    EXPECT_THAT(
        what_would_shrink(output_power({{}, fit, 1, bench, {}})),
        StartsWith(
            "43 % of the variance is load left, 2026-03-02, its own heat: measure the load hot"));
}

TEST(BudgetAdvice, IsSilentWithoutABudget) {
    EXPECT_EQ(advice({}), "");
    EXPECT_EQ(advice({{"record noise", Kind::noise, std::nan("")}}), "");
}

}  // namespace
}  // namespace afterload::analysis
