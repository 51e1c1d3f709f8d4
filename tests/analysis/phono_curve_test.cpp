#include "analysis/phono_curve.hpp"

#include "analysis/measure.hpp"
#include "analysis/tone_figure.hpp"
#include "tests/analysis/bench_and_fit.hpp"
#include "tests/analysis/check_values.hpp"
#include "tests/analysis/published.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace afterload::analysis {
namespace {

using namespace afterload::literals;
using test::check_values;
using test::detail;
using test::holds;
using testing::HasSubstr;

constexpr Band audio{Hertz{20.0}, Hertz{20000.0}};

// A stage that follows `curve` but for `shelf` dB at and above 10 kHz.
std::vector<ResponsePoint> stage(PhonoCurve curve, double shelf = 0.0) {
    std::vector<ResponsePoint> points;
    for (const double hertz : {20.0, 50.0, 100.0, 500.0, 997.0, 2000.0, 5000.0, 10000.0, 20000.0}) {
        const double gain =
            replay_gain(curve, Hertz{hertz}).decibels() + (hertz >= 10000.0 ? shelf : 0.0);
        points.push_back({Hertz{hertz}, 57.0 * std::pow(10.0, gain / 20.0), 0.0, 1e-5});
    }
    return points;
}

Figure response_of(const std::vector<ResponsePoint>& points, double flatness = 0.05) {
    return frequency_response(points, 997_Hz, 1, flatness, {});
}

TEST(PhonoCurve, IsTheTableOfTheTimeConstants) {
    // Table: computed from 3180, 318, 75 and 7950 us of IEC 60098 to six decimals.
    const auto rows = check_values("riaa.csv");
    ASSERT_GT(rows.size(), 40U);
    for (const auto& row : rows) {
        const Hertz frequency{row.number("frequency_Hz")};
        EXPECT_NEAR(replay_gain(PhonoCurve::iec_60098, frequency).decibels(),
                    row.number("riaa_replay_dB"), 1e-6);
        EXPECT_NEAR(replay_gain(PhonoCurve::iec_60098_amended, frequency).decibels(),
                    row.number("iec_amended_replay_dB"), 1e-6);
    }
    test::expect_published("IEC 60098 with amendment, 7950 us", "replay curve, 20 Hz, dB",
                           replay_gain(PhonoCurve::iec_60098_amended, Hertz{20.0}).decibels(),
                           16.2614, 5e-5);
}

TEST(PhonoCurve, RoundsToThePrintedTable) {
    for (const auto& row : check_values("riaa.csv")) {
        const Hertz frequency{row.number("frequency_Hz")};
        test::expect_published("IEC 60098, 3180, 318 and 75 us",
                               "replay curve, " + row.text("frequency_Hz") + " Hz, dB",
                               replay_gain(PhonoCurve::iec_60098, frequency).decibels(),
                               row.number("riaa_rounded_0.1_dB"), 0.0501);
    }
}

TEST(EqualisationError, OfAStageOnTheCurveIsNothing) {
    for (const PhonoCurve curve : {PhonoCurve::iec_60098, PhonoCurve::iec_60098_amended}) {
        const Figure figure = equalisation_error(response_of(stage(curve)), curve, audio);
        EXPECT_NEAR(*figure.value, 0.0, 1e-12);
        EXPECT_EQ(figure.conditions.curve, name(curve));
        // The other curve is 3.01 dB away at 20 Hz.
        EXPECT_NEAR(std::abs(detail(figure, "worst_re_other_curve")), 3.0128, 2e-4);
        EXPECT_EQ(detail(figure, "other_worst_at_hz"), 20.0);
    }
}

TEST(EqualisationError, IsItsWorstPointInsideTheRange) {
    const Figure response = response_of(stage(PhonoCurve::iec_60098, -0.7));
    const Figure figure = equalisation_error(response, PhonoCurve::iec_60098, audio);
    EXPECT_NEAR(*figure.value, -0.7, 1e-12);
    // 10 and 20 kHz may each be the worst: the larger of two independent errors lies within 2.27318
    // u as often as one within 2 u (standard normal distribution, 0.9545^(1/2)).
    EXPECT_NEAR(expanded(figure.budget),
                2.27318 * std::hypot(0.05, 8.685889638e-5 * std::sqrt(2.0)), 1e-6);
    EXPECT_EQ(figure.curve->value.size(), 9U);
    const Figure narrow =
        equalisation_error(response, PhonoCurve::iec_60098, {40_Hz, Hertz{5000.0}});
    EXPECT_NEAR(*narrow.value, 0.0, 1e-12);
    EXPECT_THAT(equalisation_error(response, PhonoCurve::iec_60098, {21_Hz, 22_Hz}).unresolved,
                HasSubstr("no point between"));
}

TEST(EqualisationError, PassesOnWhyThereIsNoResponse) {
    const Figure none = frequency_response({}, 997_Hz, 1, 0.0, {});
    EXPECT_THAT(equalisation_error(none, PhonoCurve::iec_60098, audio).unresolved,
                HasSubstr("reference frequency"));
}

TEST(EqualisationError, HoldsItsUncertainty) {
    constexpr int draws = 800;
    std::mt19937_64 engine{60098};
    std::normal_distribution<double> normal{0.0, 1.0};
    int held = 0;
    for (int draw = 0; draw < draws; ++draw) {
        const double ten = replay_gain(PhonoCurve::iec_60098, 10_kHz).decibels();
        const auto volts = [&](double decibels, double flatness) {
            return std::pow(10.0, (decibels + flatness * normal(engine)) / 20.0) *
                   (1.0 + 0.003 * normal(engine));
        };
        const std::vector<ResponsePoint> points{{1_kHz, volts(0.0, 0.0), 0.0, 0.003},
                                                {10_kHz, volts(ten - 0.8, 0.05), 0.0, 0.003}};
        const Figure response = frequency_response(points, 1_kHz, 1, 0.05, {});
        held += holds(equalisation_error(response, PhonoCurve::iec_60098, audio), -0.8);
    }
    EXPECT_GE(held, 0.932 * draws);  // 95.4 % less three sigma of 800 draws
    EXPECT_LE(held, 0.976 * draws);
}

}  // namespace
}  // namespace afterload::analysis
