#include "analysis/level_linearity.hpp"

#include "tests/analysis/bench_and_fit.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <deque>
#include <random>

namespace afterload::analysis {
namespace {

using namespace afterload::literals;
using test::detail;
using test::fit_of;
using test::holds;
using test::line_of;
using test::shop_bench;
using testing::HasSubstr;

// Records of one channel; fits and shares stay where the records look for them.
class Ladder {
public:
    void add(double volts, double drive, double relative_noise = 1e-6,
             const BenchShare& bench = shop_bench()) {
        fits_.push_back(fit_of(volts, relative_noise));
        benches_.push_back(bench);
        tones_.push_back({{{}, fits_.back(), 1, benches_.back(), {}}, VoltsRms{drive}});
    }
    [[nodiscard]] Figure linearity(VoltsRms reference = VoltsRms{1.0}, double u = 0.0) const {
        return level_linearity(tones_, {reference, u, "linearity 2026-03-02"});
    }

private:
    std::deque<ToneFit> fits_;
    std::deque<BenchShare> benches_;
    std::vector<DrivenTone> tones_;
};

// Output of a sine of `peak` through a contact film that holds back at most `held_back` volts and
// is `film` ohms below that, into `load`: fundamental by the mean over one cycle.
double through_film(double peak, double film, double held_back, double load) {
    constexpr int points = 20000;
    double sum = 0.0;
    for (int i = 0; i < points; ++i) {
        const double sine = std::sin(test::two_pi * (i + 0.5) / points);
        const double source = peak * sine;
        const double across = source * film / (film + load);
        sum += (source - std::clamp(across, -held_back, held_back)) * sine;
    }
    return 2.0 * sum / points;
}

TEST(LevelLinearity, OfAFaultlessUnitIsZero) {
    Ladder ladder;
    for (const double volts : {0.001, 0.01, 0.1, 1.0, 10.0}) {
        ladder.add(volts, volts / 100.0);
    }
    const Figure figure = ladder.linearity();
    EXPECT_NEAR(*figure.value, 0.0, 1e-12);
    EXPECT_NEAR(detail(figure, "lowest_v"), 0.001, 1e-9);
    EXPECT_NEAR(detail(figure, "highest_v"), 10.0, 1e-9);
    EXPECT_EQ(figure.conditions.reference_level->kind, LevelTarget::Kind::output_volts);
}

TEST(LevelLinearity, ShowsContactFilmAtSmallLevels) {
    // 5 ohm of film up to 0.2 V in series with 8 ohm: 20 lg 8/13 = -4.217 dB at milliwatts, less
    // the -0.6 dB it still takes at 1 W.
    Ladder ladder;
    const std::vector<double> sources{0.02, 1.3, 4.0, 12.0};
    for (const double source : sources) {
        ladder.add(through_film(source, 5.0, 0.2, 8.0) / std::sqrt(2.0), source / 50.0);
    }
    const double at_reference = test::decibels(through_film(4.0, 5.0, 0.2, 8.0) / 4.0);
    const Figure figure = ladder.linearity(VoltsRms{2.8284});
    EXPECT_NEAR(at_reference, -0.6, 0.05);
    EXPECT_NEAR(*figure.value, -4.2171 - at_reference, 1e-3);
    EXPECT_NEAR(detail(figure, "worst_at_v"), 0.02 * 8.0 / 13.0 / std::sqrt(2.0), 1e-6);
}

TEST(LevelLinearity, ShowsCompressionAtTheTopWithItsSign) {
    Ladder ladder;
    ladder.add(0.1, 0.001);
    ladder.add(1.0, 0.01);
    ladder.add(9.0, 0.1);
    EXPECT_NEAR(*ladder.linearity().value, test::decibels(0.9), 1e-9);
}

TEST(LevelLinearity, ANoisyPointCountsOnlyBeyondItsNoise) {
    // 10 % of noise is 0.87 dB: k = 2 is far above 0.3 dB.
    Ladder ladder;
    ladder.add(0.0011, 0.00001, 0.1);
    ladder.add(0.1, 0.00099);
    ladder.add(1.0, 0.01);
    const Figure figure = ladder.linearity();
    EXPECT_NEAR(*figure.value, test::decibels(1.0 / 0.99), 1e-9);
    EXPECT_NEAR(detail(figure, "lowest_v"), 0.1, 1e-9);
    EXPECT_NEAR(detail(figure, "deviation_at_0.0011_v"), test::decibels(1.1), 1e-9);
    EXPECT_NEAR(detail(figure, "u_at_0.0011_v"), 0.8686, 1e-3);
    // Half of the level lost is not noise.
    Ladder lost;
    lost.add(0.0004, 0.00001, 0.1);
    lost.add(0.1, 0.001);
    lost.add(1.0, 0.01);
    EXPECT_NEAR(*lost.linearity().value, test::decibels(0.4), 1e-9);
}

TEST(LevelLinearity, NeedsTheCalibrationOnlyAcrossRanges) {
    BenchShare low = shop_bench();
    low.level_source = "range low, left, 2026-03-02";
    low.level_u_k1 = 0.004;
    Ladder one;
    one.add(0.1, 0.001);
    one.add(1.0, 0.01);
    EXPECT_EQ(line_of(one.linearity(), "range high, left, 2026-03-02"), nullptr);
    Ladder two;
    two.add(0.1, 0.001, 1e-6, low);
    two.add(1.0, 0.01);
    EXPECT_NEAR(combined(two.linearity().budget), 8.685889638 * std::hypot(0.004, 0.007), 1e-4);
    EXPECT_NEAR(line_of(one.linearity(1_Vrms, 0.001), "linearity 2026-03-02")->u_k1, 0.0086859,
                1e-6);
}

TEST(LevelLinearity, SaysWhatItLacks) {
    EXPECT_THAT(Ladder{}.linearity().unresolved, HasSubstr("no tones"));
    Ladder far;
    far.add(0.1, 0.001);
    far.add(0.2, 0.002);
    EXPECT_THAT(far.linearity().unresolved, HasSubstr("reference level, 1 V"));
    Ladder alone;
    alone.add(1.0, 0.01);
    alone.add(1e-5, 1e-7, 0.9);
    EXPECT_THAT(alone.linearity().unresolved, HasSubstr("no second tone"));
    Ladder silent;
    silent.add(1.0, 0.0);
    EXPECT_THAT(silent.linearity().unresolved, HasSubstr("not driven"));
}

// One clear point beside the reference: with more, the worst of several honest draws is no draw.
TEST(LevelLinearity, HoldsItsUncertainty) {
    constexpr int draws = 800;
    std::mt19937_64 engine{31};
    std::normal_distribution<double> normal{0.0, 1.0};
    const double truth = test::decibels(0.97);
    int held = 0;
    for (int draw = 0; draw < draws; ++draw) {
        Ladder ladder;
        ladder.add(0.0097 * (1.0 + 0.008 * normal(engine) + 0.002 * normal(engine)), 0.0001, 0.008);
        ladder.add(1.0 + 0.001 * normal(engine), 0.01, 0.001);
        held += holds(ladder.linearity(1_Vrms, 0.002), truth);
    }
    EXPECT_GE(held, 0.932 * draws);  // 95.4 % less three sigma of 800 draws
    EXPECT_LE(held, 0.976 * draws);
}

}  // namespace
}  // namespace afterload::analysis
