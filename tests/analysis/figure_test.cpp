#include "analysis/figure.hpp"

#include "tests/analysis/published.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>
#include <random>
#include <set>
#include <string>
#include <vector>

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

// What inputs share is taken apart into sources that share nothing (Cholesky's factor of their
// covariance): a figure has one line a source, its sensitivities added with their signs.
TEST(Figure, CorrelatedInputsOfTheGumCombineThroughTheSourcesThatTheyShare) {
    // GUM H.2: V, I and φ read five times together; R = V/I cos φ, X = V/I sin φ, Z = V/I.
    constexpr std::array<std::array<double, 5>, 3> read{{
        {5.007, 4.994, 5.005, 4.990, 4.999},
        {19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3},
        {1.0456, 1.0438, 1.0468, 1.0428, 1.0433},
    }};
    std::array<double, 3> mean{};
    for (std::size_t i = 0; i < 3; ++i) {
        mean.at(i) = std::accumulate(read.at(i).begin(), read.at(i).end(), 0.0) / 5.0;
    }
    std::array<std::array<double, 3>, 3> factor{};
    for (std::size_t i = 0; i < 3; ++i) {
        for (std::size_t j = 0; j <= i; ++j) {
            double rest = 0.0;
            for (std::size_t n = 0; n < 5; ++n) {
                rest += (read.at(i).at(n) - mean.at(i)) * (read.at(j).at(n) - mean.at(j)) / 20.0;
            }
            for (std::size_t k = 0; k < j; ++k) {
                rest -= factor.at(i).at(k) * factor.at(j).at(k);
            }
            factor.at(i).at(j) = i == j ? std::sqrt(rest) : rest / factor.at(j).at(j);
        }
    }
    const auto through_sources = [&](std::array<double, 3> sensitivity) {
        std::array<double, 3> share{};
        for (std::size_t k = 0; k < 3; ++k) {
            for (std::size_t i = 0; i < 3; ++i) {
                share.at(k) += sensitivity.at(i) * factor.at(i).at(k);
            }
        }
        return share;
    };
    const auto budget_of = [](const std::array<double, 3>& share) {
        Budget budget;
        for (const double u : share) {
            budget.push_back({"source", BudgetLine::Kind::systematic, std::abs(u)});
        }
        return budget;
    };
    const auto [volts, amperes, phase] = mean;
    const double ohms = volts / amperes;
    const double cosine = std::cos(phase);
    const double sine = std::sin(phase);
    const auto r = through_sources({cosine / amperes, -ohms * cosine / amperes, -ohms * sine});
    const auto x = through_sources({sine / amperes, -ohms * sine / amperes, ohms * cosine});
    const auto z = through_sources({1.0 / amperes, -ohms / amperes, 0.0});
    const auto correlation = [&](const std::array<double, 3>& a, const std::array<double, 3>& b) {
        return std::inner_product(a.begin(), a.end(), b.begin(), 0.0) /
               (combined(budget_of(a)) * combined(budget_of(b)));
    };
    const std::string gum = "GUM (JCGM 100:2008), H.2";
    const auto check = [&gum](const char* what, double computed, double reference, double allowed) {
        analysis::test::expect_published(gum, what, computed, reference, allowed);
    };
    check("resistance, ohm", ohms * cosine, 127.732, 5e-4);
    check("reactance, ohm", ohms * sine, 219.847, 5.01e-4);
    check("impedance, ohm", ohms, 254.260, 5e-4);
    check("resistance, u, ohm", combined(budget_of(r)), 0.071, 5e-4);
    check("reactance, u, ohm", combined(budget_of(x)), 0.295, 1e-3);
    check("impedance, u, ohm", combined(budget_of(z)), 0.236, 5e-4);
    check("correlation of resistance and reactance", correlation(r, x), -0.588, 5e-4);
    check("correlation of resistance and impedance", correlation(r, z), -0.485, 5e-4);
    check("correlation of reactance and impedance", correlation(x, z), 0.993, 5e-4);
}

// JCGM 101 takes distributions where a budget takes standard deviations: four rectangular ones,
// drawn.
TEST(Figure, RectangularInputsCombineAsPropagatedDistributionsDo) {
    const auto check = [](const std::string& what, double computed, double reference,
                          double allowed) {
        analysis::test::expect_published("JCGM 101:2008, 9.2", what, computed, reference, allowed);
    };
    struct Case {
        double fourth;
        double u;
        double reach;  // of 95 % of the draws
    };
    for (const auto& [fourth, u, reach] : {Case{1.0, 2.00, 3.88}, Case{10.0, 10.1, 17.0}}) {
        std::mt19937_64 engine{92};
        std::uniform_real_distribution<double> rectangular{-std::sqrt(3.0), std::sqrt(3.0)};
        constexpr std::size_t count = 1000000;
        std::vector<double> drawn(count);
        double squares = 0.0;
        for (double& sum : drawn) {
            sum = rectangular(engine) + rectangular(engine) + rectangular(engine) +
                  fourth * rectangular(engine);
            squares += sum * sum;
        }
        const Budget budget = lines({{1.0, 1e9}, {1.0, 1e9}, {1.0, 1e9}, {fourth, 1e9}});
        const std::string inputs = fourth == 1.0 ? "four alike" : "one ten times as wide";
        const double last_digit = u < 10.0 ? 0.005 : 0.05;
        check(inputs + ", u of the budget", combined(budget), u, last_digit);
        check(inputs + ", u of 1e6 draws", std::sqrt(squares / count), u, 0.01 + last_digit);
        for (double& sum : drawn) {
            sum = std::abs(sum);
        }
        const auto percentile = drawn.begin() + 950000;
        std::nth_element(drawn.begin(), percentile, drawn.end());
        // Printed to the last digit; a million draws know the percentile to 0.005 and 0.01.
        check(inputs + ", half of the 95 % interval, drawn", *percentile, reach, last_digit + 0.01);
        EXPECT_GE(expanded(budget), *percentile) << "k = 2 reaches further than the draws";
    }
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
