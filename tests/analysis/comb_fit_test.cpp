#include "analysis/comb_fit.hpp"

#include "tests/analysis/published.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace afterload::analysis {
namespace {

using test::two_pi;

struct Record {
    explicit Record(std::vector<double> volts, double ends = 0.1)
        : weight{volts.size(), ends}, halves{folded(volts, weight)} {}
    CosineEnds weight;
    FoldedRecord halves;
};

// IEEE Std 1057 three-parameter fit, exact fixture: x = 0.25 + 1.25 cos ωn - 0.75 sin ωn,
// ω = 2π 0.0717, n = 0 … 31: amplitude 1.457737974, phase 0.540419500 rad at n = 0.
TEST(CombFit, KnownFrequencyGivesTheExactThreeParameters) {
    const double omega = two_pi * 0.0717;
    std::vector<double> x;
    for (int n = 0; n < 32; ++n) {
        x.push_back(0.25 + 1.25 * std::cos(omega * n) - 0.75 * std::sin(omega * n));
    }
    for (const double ends : {0.0, 0.1}) {
        const Record record{x, ends};
        CombFit fit{record.halves, record.weight, 0};
        const std::size_t tone = fit.add({omega, {1}, false});
        ASSERT_TRUE(fit.solve_amplitudes());
        EXPECT_NEAR(fit.dc()[0], 0.25, 1e-13);
        test::expect_published("IEEE Std 1057, three-parameter fit", "sine fixture, amplitude",
                               fit.lines(tone)[0].amplitude(), 1.457737974, 1e-9);
        const double at_start = fit.lines(tone)[0].phase() - omega * 15.5;
        test::expect_published("IEEE Std 1057, three-parameter fit", "sine fixture, phase, rad",
                               std::remainder(at_start, two_pi), 0.540419500, 1e-9);
    }
}

TEST(CombFit, OddAndEvenLengthsAreFoldedAlike) {
    for (const std::size_t length : {999U, 1000U}) {
        std::vector<double> x;
        for (std::size_t n = 0; n < length; ++n) {
            const double t = static_cast<double>(n) - 0.5 * static_cast<double>(length - 1);
            x.push_back(0.5 * std::cos(0.3 * t) - 0.25 * std::sin(0.3 * t) +
                        0.125 * std::sin(0.9 * t) + 0.1 + 0.2 * t / static_cast<double>(length));
        }
        const Record record{x};
        CombFit fit{record.halves, record.weight, 1};
        const std::size_t tone = fit.add({0.3, {1, 3}, false});
        ASSERT_TRUE(fit.solve_amplitudes());
        EXPECT_NEAR(fit.lines(tone)[0].cosine, 0.5, 1e-13);
        EXPECT_NEAR(fit.lines(tone)[0].sine, -0.25, 1e-13);
        EXPECT_NEAR(fit.lines(tone)[1].cosine, 0.0, 1e-13);
        EXPECT_NEAR(fit.lines(tone)[1].sine, 0.125, 1e-13);
        EXPECT_NEAR(fit.dc()[0], 0.1, 1e-13);
        EXPECT_NEAR(fit.dc()[1], 0.2, 1e-12);
    }
}

TEST(CombFit, SubtractionLeavesNothingOfWhatWasFitted) {
    test::Synthesis record{48000.0, 5001.0 / 48000.0};
    record.line(1003.0, 0.8, 1.0).line(2006.0, 0.01, 2.0).line(61.0, 0.1, 0.3).dc(0.3);
    const Record halves{record.volts()};
    CombFit fit{halves.halves, halves.weight, 0};
    fit.add({two_pi * 1003.2 / 48000.0, {1, 2}, true});
    fit.add({two_pi * 60.9 / 48000.0, {1}, true});
    ASSERT_TRUE(fit.solve_amplitudes());
    ASSERT_TRUE(fit.settle(1e-9, 12));
    EXPECT_NEAR(fit.omega(0), two_pi * 1003.0 / 48000.0, 1e-13);
    EXPECT_NEAR(fit.omega(1), two_pi * 61.0 / 48000.0, 1e-12);
    std::vector<double> rest = record.volts();
    subtract(rest, fit.all_lines(), fit.dc());
    for (const double x : rest) {
        EXPECT_NEAR(x, 0.0, 1e-12);
    }
}

TEST(CombFit, TwoLinesThatAreOneAreAnErrorAndNotAnAnswer) {
    test::Synthesis record{48000.0, 0.1};
    record.line(1000.0, 1.0, 0.0);
    const Record halves{record.volts()};
    CombFit fit{halves.halves, halves.weight, 0};
    fit.add({two_pi * 1000.0 / 48000.0, {1}, false});
    fit.add({two_pi * 1000.0 / 48000.0, {1}, false});
    EXPECT_FALSE(fit.solve_amplitudes());
    EXPECT_FALSE(fit.step());
    EXPECT_FALSE(fit.settle(1e-5, 8));
}

TEST(CombFit, CurvedDcIsFittedBesideALowTone) {
    const std::size_t length = 4800;
    std::vector<double> x;
    for (std::size_t n = 0; n < length; ++n) {
        const double t = (static_cast<double>(n) - 0.5 * static_cast<double>(length - 1)) /
                         static_cast<double>(length);
        x.push_back(std::cos(two_pi * 4.3 * t + 0.7) + 0.1 - 0.3 * t + 2.0 * t * t - t * t * t +
                    0.5 * std::pow(t, 4));
    }
    const Record record{x};
    CombFit fit{record.halves, record.weight, 4};
    const std::size_t tone =
        fit.add({two_pi * 4.35 / static_cast<double>(length), {1, 2, 3}, true});
    ASSERT_TRUE(fit.solve_amplitudes());
    ASSERT_TRUE(fit.settle(1e-9, 12));
    EXPECT_NEAR(fit.lines(tone)[0].amplitude(), 1.0, 1e-9);
    EXPECT_NEAR(fit.omega(tone) * static_cast<double>(length) / two_pi, 4.3, 1e-8);
    const std::vector<double> expected{0.1, -0.3, 2.0, -1.0, 0.5};
    for (std::size_t p = 0; p < expected.size(); ++p) {
        EXPECT_NEAR(fit.dc()[p], expected[p], 1e-6) << p;
    }
}

}  // namespace
}  // namespace afterload::analysis
