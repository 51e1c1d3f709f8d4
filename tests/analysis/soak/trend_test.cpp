#include "analysis/soak/trend.hpp"

#include "tests/analysis/soak/trend_fixtures.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

namespace afterload::analysis {
namespace {

template <class Times, class Values>
std::vector<DatedFigure> dated(const Times& times, const Values& values) {
    std::vector<DatedFigure> result;
    for (std::size_t i = 0; i < times.size(); ++i) {
        result.push_back({Seconds{times[i]}, values[i], 0.0});
    }
    return result;
}

// A course read each ten minutes for four hours, with noise of `u`.
template <class Course>
std::vector<DatedFigure> read_from(const Course& course, double u, std::uint64_t seed) {
    std::mt19937_64 engine{seed};
    std::normal_distribution<double> normal{0.0, 1.0};
    std::vector<DatedFigure> result;
    for (int minute = 0; minute <= 240; minute += 10) {
        const double t = 60.0 * minute;
        result.push_back({Seconds{t}, course(t) + u * normal(engine), u});
    }
    return result;
}

TEST(Trend, LineIsTheOneOfTheTextbookToTheLastDigits) {
    // JCGM 100:2008, H.3: calibration of a thermometer, table H.6; y = y1 + y2 (t - 20 degC) with
    // y1 = -0.1712, s = 0.0029, y2 = 0.00218, s = 0.00067. Degrees stand for hours here.
    const std::vector<double> t{21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                                24.513, 25.002, 25.503, 26.010, 26.511};
    const std::vector<double> b{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165,
                                -0.156, -0.157, -0.159, -0.161, -0.160};
    std::vector<DatedFigure> figures;
    double middle = 0.0;
    for (std::size_t i = 0; i < t.size(); ++i) {
        figures.push_back({Seconds{3600.0 * t[i]}, b[i], 0.0});
        middle += t[i] / static_cast<double>(t.size());
    }
    const auto fit = fit_line(figures);
    ASSERT_TRUE(fit);
    EXPECT_NEAR(fit->drift.value, 0.00218, 0.000005);
    EXPECT_NEAR(fit->drift.u_k1, 0.00067, 0.000005);
    EXPECT_NEAR(fit->level.value + fit->drift.value * (20.0 - middle), -0.1712, 0.00005);
    EXPECT_NEAR(fit->sigma, 0.0035, 0.00005);
    EXPECT_EQ(fit->degrees_of_freedom, 9);
}

TEST(Trend, LineIsSciPys) {
    const auto fit = fit_line(dated(fixtures::line_s, fixtures::line_values));
    ASSERT_TRUE(fit);
    EXPECT_NEAR(fit->drift.value, fixtures::line_slope_an_hour, 1e-9);
    EXPECT_NEAR(fit->drift.u_k1, fixtures::line_slope_u, 1e-9);
}

TEST(Trend, WarmUpCurveIsSciPysWithAndWithoutKnownUncertainties) {
    auto figures = dated(fixtures::warm_s, fixtures::warm_values);
    // SciPy's own search ends within a part in ten million.
    const auto even = fit_exponential(figures);
    ASSERT_TRUE(even);
    EXPECT_NEAR(even->level.value, fixtures::even_c, 1e-6 * std::abs(fixtures::even_c));
    EXPECT_NEAR(even->height.value, fixtures::even_d, 1e-6 * std::abs(fixtures::even_d));
    EXPECT_NEAR(even->tau.value, fixtures::even_tau, 1e-6 * fixtures::even_tau);
    EXPECT_NEAR(even->level.u_k1, fixtures::even_c_u, 1e-4 * fixtures::even_c_u);
    EXPECT_NEAR(even->tau.u_k1, fixtures::even_tau_u, 1e-4 * fixtures::even_tau_u);
    for (std::size_t i = 0; i < figures.size(); ++i) {
        figures[i].u_k1 = fixtures::warm_u[i];
    }
    const auto known = fit_exponential(figures);
    ASSERT_TRUE(known);
    EXPECT_NEAR(known->level.value, fixtures::warm_c, 1e-6 * std::abs(fixtures::warm_c));
    EXPECT_NEAR(known->height.value, fixtures::warm_d, 1e-6 * std::abs(fixtures::warm_d));
    EXPECT_NEAR(known->tau.value, fixtures::warm_tau, 1e-6 * fixtures::warm_tau);
    EXPECT_NEAR(known->level.u_k1, fixtures::warm_c_u, 1e-4 * fixtures::warm_c_u);
    EXPECT_NEAR(known->height.u_k1, fixtures::warm_d_u, 1e-4 * fixtures::warm_d_u);
    EXPECT_NEAR(known->tau.u_k1, fixtures::warm_tau_u, 1e-4 * fixtures::warm_tau_u);
}

TEST(Trend, OfWhatStandsIsStable) {
    const auto trend = trend_of(read_from([](double) { return 26.02; }, 0.005, 1), {0.05, 2.0});
    EXPECT_EQ(trend.verdict, Trend::Verdict::stable);
    EXPECT_EQ(trend.fit->kind, TrendFit::Kind::constant);
    // 25 readings of 0.005 dB.
    EXPECT_NEAR(trend.settled_value->u_k1, 0.001, 1e-9 + 0.0004);
}

TEST(Trend, OfABiasThatWarmsUpSaysWhereItSettlesAndWhen) {
    const auto trend =
        trend_of(read_from([](double t) { return 12.0 - 3.6 * std::exp(-t / 1500.0); }, 0.03, 2),
                 {0.1, 2.0});
    EXPECT_EQ(trend.verdict, Trend::Verdict::settled);
    ASSERT_TRUE(trend.settled_value);
    EXPECT_NEAR(trend.settled_value->value, 12.0, 3.0 * trend.settled_value->u_k1);
    // 1500 s · ln(3.6/0.1)
    EXPECT_NEAR(trend.settled_at->in<Seconds>(), 5375.0, 400.0);
    EXPECT_NEAR(trend.fit->tau.value, 1500.0, 3.0 * trend.fit->tau.u_k1);
}

TEST(Trend, OfAWarmUpThatIsNotOverIsSettling) {
    const auto trend =
        trend_of(read_from([](double t) { return 12.0 - 3.6 * std::exp(-t / 7000.0); }, 0.01, 3),
                 {0.1, 2.0});
    EXPECT_EQ(trend.verdict, Trend::Verdict::settling);
}

TEST(Trend, OfADriftThatGoesOnSaysHowMuchAnHour) {
    const auto trend = trend_of(
        read_from([](double t) { return 26.0 - 0.08 * t / 3600.0; }, 0.01, 4), {0.05, 2.0});
    EXPECT_EQ(trend.verdict, Trend::Verdict::drifting);
    EXPECT_NEAR(trend.drift->value, -0.08, 3.0 * trend.drift->u_k1);
    EXPECT_NEAR(trend.final_drift->value, -0.08, 3.0 * trend.final_drift->u_k1);
}

TEST(Trend, OfADriftThatDoesNotMatterIsStable) {
    const auto trend = trend_of(
        read_from([](double t) { return 26.0 - 0.005 * t / 3600.0; }, 0.001, 5), {0.05, 2.0});
    EXPECT_EQ(trend.verdict, Trend::Verdict::stable);
}

TEST(Trend, OfAStepSaysWhenAndByHowMuch) {
    const auto trend = trend_of(
        read_from([](double t) { return t < 7500.0 ? 26.0 : 25.7; }, 0.01, 6), {0.05, 2.0});
    EXPECT_EQ(trend.verdict, Trend::Verdict::stepped);
    EXPECT_NEAR(trend.fit->height.value, -0.3, 3.0 * trend.fit->height.u_k1);
    EXPECT_NEAR(trend.fit->at.value, 7500.0, 300.0);
}

TEST(Trend, OfWhatScattersMoreThanItsReadingsExplainIsUnstable) {
    auto figures = read_from([](double) { return 26.0; }, 0.3, 7);
    for (DatedFigure& one : figures) {
        one.u_k1 = 0.01;
    }
    EXPECT_EQ(trend_of(figures, {0.2, 2.0}).verdict, Trend::Verdict::unstable);
}

TEST(Trend, OfTwoReadingsIsUndecided) {
    const std::vector<DatedFigure> two{{Seconds{0.0}, 1.0, 0.1}, {Seconds{60.0}, 1.0, 0.1}};
    EXPECT_EQ(trend_of(two, {0.1, 2.0}).verdict, Trend::Verdict::undecided);
    EXPECT_FALSE(fit_line(two));
    EXPECT_FALSE(fit_exponential(two));
    EXPECT_FALSE(fit_step(two));
}

TEST(Trend, UncertaintyOfADriftHoldsWhatItSays) {
    // 95.45 % of a thousand draws within k = 2; three standard deviations of that count are 2 %.
    int inside = 0;
    for (std::uint64_t seed = 1; seed <= 1000; ++seed) {
        const auto fit =
            fit_line(read_from([](double t) { return 1.0 + 0.1 * t / 3600.0; }, 0.02, seed));
        inside += std::abs(fit->drift.value - 0.1) <= 2.0 * fit->drift.u_k1 ? 1 : 0;
    }
    // Widened where the scatter asks for it, never narrowed: it may hold a little more.
    EXPECT_GE(inside, 934);
    EXPECT_LE(inside, 985);
}

}  // namespace
}  // namespace afterload::analysis
