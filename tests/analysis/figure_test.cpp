#include "analysis/figure.hpp"

#include "tests/analysis/published.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <set>

namespace afterload {
namespace {

Budget lines(std::initializer_list<std::pair<double, double>> u_and_degrees) {
    Budget budget;
    for (const auto& [u, degrees] : u_and_degrees) {
        budget.push_back({"line", BudgetLine::Kind::systematic, u, degrees});
    }
    return budget;
}

TEST(Figure, NamesAreUniqueAndReadBack) {
    std::set<std::string_view> names;
    for (const FigureKind kind : all_figure_kinds()) {
        EXPECT_TRUE(names.insert(name(kind)).second) << name(kind);
        EXPECT_EQ(figure_kind(name(kind)), kind);
    }
    EXPECT_EQ(names.size(), 40U);
    EXPECT_EQ(figure_kind("thd+n"), std::nullopt);
    EXPECT_EQ(figure_kind(""), std::nullopt);
}

TEST(Figure, UnitsAreThoseOfTheContract) {
    const auto unit = [](std::string_view figure) { return symbol(unit_of(*figure_kind(figure))); };
    EXPECT_EQ(unit("output_voltage"), "V");
    EXPECT_EQ(unit("output_power"), "W");
    EXPECT_EQ(unit("gain"), "dB");
    EXPECT_EQ(unit("thd"), "1");
    EXPECT_EQ(unit("frequency"), "Hz");
    EXPECT_EQ(unit("bandwidth_low"), "Hz");
    EXPECT_EQ(unit("noise_voltage"), "V");
    EXPECT_EQ(unit("output_impedance"), "ohm");
    EXPECT_EQ(unit("damping_factor"), "1");
    EXPECT_EQ(unit("quiescent_current"), "A");
    EXPECT_EQ(unit("temperature"), "degC");
    EXPECT_EQ(unit("relay_delay"), "s");
    EXPECT_EQ(unit("random_steps"), "1/s");
}

TEST(Figure, WhichReadingIsBetterFollowsTheFigure) {
    EXPECT_EQ(better(FigureKind::thd), Better::smaller);
    EXPECT_EQ(better(FigureKind::noise_voltage), Better::smaller);
    EXPECT_EQ(better(FigureKind::output_power), Better::larger);
    EXPECT_EQ(better(FigureKind::channel_separation), Better::larger);
    EXPECT_EQ(better(FigureKind::signal_to_noise), Better::larger);
    EXPECT_EQ(better(FigureKind::gain), Better::neither);
    EXPECT_EQ(better(FigureKind::dc_offset), Better::neither);
}

TEST(Figure, EndGaugeOfTheGumCombinesToThirtyTwoNanometresWithSixteenDegrees) {
    // GUM (JCGM 100:2008) H.1: 25 nm (18), 9.7 (25.6), 2.9 (50), 16.6 (2): 32 nm, ν_eff 16.
    const Budget budget = lines({{25.0, 18.0}, {9.7, 25.6}, {2.9, 50.0}, {16.6, 2.0}});
    analysis::test::expect_published("GUM (JCGM 100:2008), H.1",
                                     "end gauge, standard uncertainty, nm", combined(budget), 31.67,
                                     0.005);
    analysis::test::expect_published("GUM (JCGM 100:2008), H.1",
                                     "end gauge, effective degrees of freedom",
                                     effective_degrees_of_freedom(budget), 16.0, 0.0);
    EXPECT_NEAR(expanded(budget), 2.0 * 31.67, 0.01);
}

TEST(Figure, VoltmeterOfTheGumCombinesToFifteenMicrovolts) {
    // GUM 4.3.7, 5.1.5: 12 uV of scatter, limits of 14e-6 of the reading and 2e-6 of the range.
    const double limit = 14e-6 * 0.928571 + 2e-6;
    const Budget budget =
        lines({{12e-6, 9.0}, {limit / std::sqrt(3.0), std::numeric_limits<double>::infinity()}});
    analysis::test::expect_published("GUM (JCGM 100:2008), 4.3.7 and 5.1.5", "voltmeter, u, V",
                                     combined(budget), 14.80e-6, 5e-9);
}

TEST(Figure, PowerIntoAWarmResistorCombinesAsInTheGum) {
    // GUM 5.1.3 with the numbers of a dummy load: 20 V (0.020), 8 ohm (0.008), 100e-6/K (20e-6
    // rectangular), 80 °C (5 rectangular) against 25 °C; each contribution worked from ∂P/∂x.
    const double volts = 20.0;
    const double rise = 80.0 - 25.0;
    const double warm = 1.0 + 100e-6 * rise;
    const double watts = volts * volts / (8.0 * warm);
    EXPECT_NEAR(watts, 49.726504, 5e-7);
    constexpr double known = std::numeric_limits<double>::infinity();
    const Budget budget = lines({{2.0 * watts / volts * 0.020, known},
                                 {watts / 8.0 * 0.008, known},
                                 {watts * rise / warm * 20e-6 / std::sqrt(3.0), known},
                                 {watts * 100e-6 / warm * 5.0 / std::sqrt(3.0), known}});
    analysis::test::expect_published("GUM (JCGM 100:2008), 5.1.3", "power in a warm resistor, u, W",
                                     combined(budget), 0.116421, 5e-7);
    EXPECT_NEAR(expanded(budget), 0.233, 0.0005);
    EXPECT_EQ(effective_degrees_of_freedom(budget), known);
}

TEST(Figure, MicrovoltsDoNotRunOutOfExponent) {
    const Budget budget = lines({{1e-90, 4.0}, {1e-90, 4.0}});
    EXPECT_EQ(effective_degrees_of_freedom(budget), 8.0);
}

TEST(Figure, AnEmptyBudgetIsCertain) {
    EXPECT_EQ(combined({}), 0.0);
    EXPECT_EQ(effective_degrees_of_freedom({}), std::numeric_limits<double>::infinity());
}

TEST(Figure, BudgetKindsHaveTheWordsOfTheDocuments) {
    EXPECT_EQ(name(BudgetLine::Kind::noise), "noise");
    EXPECT_EQ(name(BudgetLine::Kind::systematic), "systematic");
    EXPECT_EQ(name(BudgetLine::Kind::bound), "bound");
}

}  // namespace
}  // namespace afterload
