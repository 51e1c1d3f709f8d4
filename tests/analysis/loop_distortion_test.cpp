// A loop whose halves are known: a polynomial makes the input's, a second source line the source's.
#include "analysis/loop_distortion.hpp"

#include "tests/analysis/synthesis.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <vector>

namespace afterload::analysis {
namespace {

using test::Synthesis;
using testing::HasSubstr;

/// What the card sees at amplitude `a`: the source has harmonics of its own (re the fundamental,
/// signed), the input adds second · x² and third · x³ of what arrives, chosen so that a full-scale
/// sine has `second` and `third` of them.
LoopLook look(double a, double source_second, double source_third, double second, double third,
              std::uint64_t seed) {
    Synthesis record{48000.0, 1.0};
    record.line(997.3, a, 0.7);
    record.line(2.0 * 997.3, source_second * a, 1.4);
    record.line(3.0 * 997.3, source_third * a, 2.1);
    for (double& x : record.volts()) {
        // cos² = ½ + ½ cos 2θ, cos³ = ¾ cos θ + ¼ cos 3θ
        x += 2.0 * second * x * x + 4.0 * third * x * x * x;
    }
    record.noise(3e-6, seed);
    ToneFitSettings settings;
    settings.nominal = Hertz{997.0};
    return {a, fit_tone(record, settings).value()};
}

TEST(LoopDistortion, TellsTheHalvesApartAtThreeAttenuations) {
    std::vector<LoopLook> looks;
    for (const double a : {0.06, 0.2, 0.63}) {
        looks.push_back(look(a, 1e-5, 0.5e-5, 2e-5, 1e-5, 1 + looks.size()));
    }
    const LoopVerdict found = loop_distortion(looks);
    ASSERT_TRUE(found.halves) << found.why_not;
    // At the most twice the uncertainty above, never below the truth.
    EXPECT_GE(found.halves->source, std::hypot(1e-5, 0.5e-5) * 0.99);
    EXPECT_LE(found.halves->source, std::hypot(1e-5, 0.5e-5) + 1e-6);
    EXPECT_NEAR(found.halves->input_second, 2e-5, 1.5e-6);
    EXPECT_NEAR(found.halves->input_third, 1e-5, 3e-6);
    EXPECT_NEAR(found.halves->input_at(0.5), std::hypot(1e-5, 0.25e-5), 1.5e-6);
}

// The trap: at one level the loop reads next to nothing, and both halves are there.
TEST(LoopDistortion, IsNotTakenInByHalvesThatCancelAtOneLevel) {
    std::vector<LoopLook> looks;
    for (const double a : {0.06, 0.2, 0.5}) {
        looks.push_back(look(a, -1e-5, 0.0, 2e-5, 0.0, 11 + looks.size()));
    }
    const ToneFit& cancelled = looks.back().fit;
    EXPECT_LT(cancelled.harmonics.front().amplitude / cancelled.fundamental.amplitude, 1e-6);
    const LoopVerdict found = loop_distortion(looks);
    ASSERT_TRUE(found.halves) << found.why_not;
    EXPECT_GE(found.halves->source, 0.99e-5);
    EXPECT_GE(found.halves->input_at(0.5), 0.99e-5);
}

TEST(LoopDistortion, TwoAttenuationsProveNothing) {
    const LoopVerdict found =
        loop_distortion({look(0.1, 0, 0, 0, 0, 21), look(0.6, 0, 0, 0, 0, 22)});
    EXPECT_FALSE(found.halves);
    EXPECT_THAT(found.why_not, HasSubstr("may cancel"));
}

TEST(LoopDistortion, AttenuationsTooNearEachOtherProveNothing) {
    const LoopVerdict found = loop_distortion(
        {look(0.3, 0, 0, 0, 0, 31), look(0.4, 0, 0, 0, 0, 32), look(0.5, 0, 0, 0, 0, 33)});
    EXPECT_FALSE(found.halves);
    EXPECT_THAT(found.why_not, HasSubstr("factor of three"));
}

TEST(LoopDistortion, ARigOfAnotherKindIsNotBelieved) {
    // A bad contact distorts in the middle attenuation alone.
    const LoopVerdict found =
        loop_distortion({look(0.06, 1e-5, 0, 2e-5, 0, 41), look(0.2, 2e-4, 0, 2e-5, 0, 42),
                         look(0.63, 1e-5, 0, 2e-5, 0, 43)});
    EXPECT_FALSE(found.halves);
    EXPECT_THAT(found.why_not, HasSubstr("does not follow the level"));
}

}  // namespace
}  // namespace afterload::analysis
