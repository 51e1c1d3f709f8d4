#include "analysis/conformance.hpp"

#include "tests/analysis/published.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace afterload::analysis {
namespace {

Figure reading(double value, double u, FigureKind kind = FigureKind::output_voltage) {
    Figure figure;
    figure.kind = kind;
    figure.value = value;
    figure.budget = {{"meter", BudgetLine::Kind::systematic, u}};
    return figure;
}

TEST(Conformance, IsThatOfThePublishedExamples) {
    // JCGM 106:2012, 7.4: y = 13.6, u = 1.8, limits 12.5 and 16.3.
    test::expect_published("JCGM 106:2012, 7.4", "two limits, conformance probability",
                           conformance_probability(reading(13.6, 1.8), {12.5, 16.3, {}}).value(),
                           0.66263, 5e-6);
    // 7.3.3 (the examples from memory): breakdown -5.47 V against -5.40 V at most; burst 509.7 kPa
    // against 490 kPa at least.
    test::expect_published("JCGM 106:2012, 7.3.3", "breakdown voltage, conformance probability",
                           conformance_probability(reading(-5.47, 0.05), {{}, -5.40, {}}).value(),
                           0.91924, 5e-6);
    test::expect_published("JCGM 106:2012, 7.3.3", "burst pressure, conformance probability",
                           conformance_probability(reading(509.7, 8.6), {490.0, {}, {}}).value(),
                           0.98901, 5e-6);
}

// ILAC-G8:09/2019, 4.2: at the limit it is one half, one U (k = 2) inside 2.275 % are left.
TEST(Conformance, IsOneHalfAtTheLimitAndTwoSigmaInsideLeaves2275PerCent) {
    test::expect_published("ILAC-G8:09/2019, 4.2.1", "false accept at the limit",
                           1.0 - conformance_probability(reading(1.0, 0.1), {{}, 1.0, {}}).value(),
                           0.5, 1e-12);
    test::expect_published("ILAC-G8:09/2019, 4.2.2", "false accept one U inside",
                           1.0 - conformance_probability(reading(0.8, 0.1), {{}, 1.0, {}}).value(),
                           0.02275, 5e-6);
}

// A separation is a ratio of voltages: its noise is symmetric there. Monte Carlo is the referee.
TEST(Conformance, OfARatioInDecibelsIsThatOfTheVoltageRatio) {
    std::mt19937_64 engine{106};
    std::normal_distribution<double> normal{0.0, 1.0};
    const double ratio = 1.0e-3;
    const double u = 0.2e-3;
    const double limit_db = 58.5;
    constexpr int draws = 400000;
    int inside = 0;
    for (int draw = 0; draw < draws; ++draw) {
        inside += -20.0 * std::log10(std::abs(ratio + u * normal(engine))) >= limit_db ? 1 : 0;
    }
    const double u_db = 20.0 / std::log(10.0) * u / ratio;
    const auto stated = conformance_probability(reading(60.0, u_db, FigureKind::channel_separation),
                                                {limit_db, {}, {}});
    // Four standard deviations of a share of 400,000 draws.
    EXPECT_NEAR(stated.value(), static_cast<double>(inside) / draws, 4.0 * 0.5 / std::sqrt(draws));
}

TEST(Conformance, IsNotStatedWithoutAValueAnUncertaintyOrALimit) {
    Figure none = reading(1.0, 0.1);
    none.value.reset();
    EXPECT_FALSE(conformance_probability(none, {{}, 1.0, {}}));
    EXPECT_FALSE(conformance_probability(reading(1.0, 0.0), {{}, 1.0, {}}));
    EXPECT_FALSE(conformance_probability(reading(1.0, 0.1), {}));
}

TEST(Conformance, IsNotStatedWhereTheBenchDroveToTheLimitAndNoFurther) {
    Figure power = reading(39.99, 0.1, FigureKind::output_power);
    power.conditions.output_level = LevelTarget{};
    EXPECT_FALSE(conformance_probability(power, {40.0, {}, {}}));
}

}  // namespace
}  // namespace afterload::analysis
