#include "analysis/random_steps.hpp"

#include "analysis/measure_quiet.hpp"
#include "tests/analysis/coloured_noise.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

namespace afterload::analysis {
namespace {

using namespace literals;
using test::Synthesis;

constexpr double rate = 48000.0;

enum class Colour { white, pink, phono };

Synthesis noise_of(Colour colour, double seconds, std::uint64_t seed) {
    Synthesis record{rate, seconds};
    record.noise(1e-3, seed);
    if (colour == Colour::pink) {
        test::pink(record.volts());
    } else if (colour == Colour::phono) {
        test::equalise(record.volts(), rate);
    }
    return record;
}

void step(Synthesis& record, std::size_t at, double volts) {
    for (std::size_t n = at; n < record.volts().size(); ++n) {
        record.volts()[n] += volts;
    }
}

double detail(const Figure& figure, const std::string& wanted) {
    for (const auto& [name, value] : figure.details) {
        if (name == wanted) {
            return value;
        }
    }
    ADD_FAILURE() << "no detail " << wanted;
    return 0.0;
}

TEST(RandomSteps, AHealthyRecordHasNone) {
    for (const Colour colour : {Colour::white, Colour::pink, Colour::phono}) {
        for (std::uint64_t seed = 1; seed <= 5; ++seed) {
            Synthesis record = noise_of(colour, 1.0, seed);
            record.line(50.02, 5e-3, 1.0).line(100.04, 3e-3, 2.0).line(650.26, 2e-4, 3.0);
            const auto found = random_steps(QuietRecord{record, 50_Hz});
            ASSERT_TRUE(found);
            EXPECT_TRUE(found->steps.empty());
            EXPECT_TRUE(found->clicks.empty());
        }
    }
}

// A telegraph signal of known moments, in every colour of noise and beside hum: each jump is found
// within a millisecond, with its sign and its size.
TEST(RandomSteps, EveryJumpOfATelegraphSignalIsFound) {
    for (const Colour colour : {Colour::white, Colour::pink, Colour::phono}) {
        Synthesis record = noise_of(colour, 2.0, 11);
        record.line(50.02, 5e-3, 1.0).line(150.06, 2e-3, 2.0);
        const double volts = 4.0 * random_steps(QuietRecord{record, 50_Hz})->smallest_step;
        std::mt19937_64 engine{5};
        std::exponential_distribution<double> dwell{10.0};
        std::vector<double> jumps;
        double sign = 1.0;
        for (double t = 0.12 + dwell(engine); t < 1.88; t += 0.01 + dwell(engine)) {
            step(record, static_cast<std::size_t>(std::lround(t * rate)), sign * volts);
            jumps.push_back(sign * t);
            sign = -sign;
        }
        ASSERT_GT(jumps.size(), 8U);
        const auto found = random_steps(QuietRecord{record, 50_Hz});
        ASSERT_TRUE(found);
        ASSERT_EQ(found->steps.size(), jumps.size()) << static_cast<int>(colour);
        for (std::size_t i = 0; i < jumps.size(); ++i) {
            EXPECT_NEAR(found->steps[i].at.in<Seconds>(), std::abs(jumps[i]), 1e-3);
            EXPECT_EQ(found->steps[i].volts > 0.0, jumps[i] > 0.0);
            // The smallest step stands 10.5 deviations high: so many volts is one of them.
            EXPECT_NEAR(std::abs(found->steps[i].volts), volts, 4.0 * found->smallest_step / 10.5);
        }
        EXPECT_TRUE(found->clicks.empty());
    }
}

// Crackle: pulses of a tenth of a millisecond are clicks and no steps.
TEST(RandomSteps, ShortPulsesAreClicks) {
    Synthesis record = noise_of(Colour::white, 1.0, 4);
    const double volts = 3.0 * random_steps(QuietRecord{record, std::nullopt})->smallest_click;
    for (const std::size_t at : {9000U, 20000U, 37000U}) {
        for (int k = -6; k <= 6; ++k) {
            const double t = k / rate / 50e-6;
            record.volts()[at + static_cast<std::size_t>(k + 6) - 6] +=
                volts * std::exp(-0.5 * t * t);
        }
    }
    const auto found = random_steps(QuietRecord{record, std::nullopt});
    ASSERT_TRUE(found);
    EXPECT_TRUE(found->steps.empty());
    ASSERT_EQ(found->clicks.size(), 3U);
    EXPECT_NEAR(found->clicks[1].at.in<Seconds>(), 20000.0 / rate, 1e-4);
    EXPECT_NEAR(found->clicks[1].volts / volts, 1.0, 0.2);  // a deviation is 1/31.5
}

TEST(RandomSteps, FigureGivesRateSizeAndMoments) {
    Synthesis record = noise_of(Colour::white, 2.0, 6);
    for (int i = 0; i < 6; ++i) {
        step(record, 12000U + 12000U * static_cast<unsigned>(i), i % 2 == 0 ? 5e-3 : -5e-3);
    }
    const BenchShare bench;
    const Figure figure = random_steps(QuietRecord{record, std::nullopt}, 2, bench, {});
    ASSERT_TRUE(figure.value) << figure.unresolved;
    EXPECT_EQ(figure.kind, FigureKind::random_steps);
    EXPECT_EQ(figure.channel, 2);
    const double watched = detail(figure, "watched");
    EXPECT_NEAR(*figure.value, 6.0 / watched, 1e-12);
    EXPECT_NEAR(combined(figure.budget), std::sqrt(6.0) / watched, 1e-12);  // Poisson
    EXPECT_NEAR(detail(figure, "step_size"), 5e-3, 5e-4);
    EXPECT_NEAR(detail(figure, "step_2_at"), 0.5, 1e-3);
    EXPECT_LT(detail(figure, "step_2"), 0.0);
}

// None in 0.9 s: a unit with three a second and more is as quiet in one record of twenty.
TEST(RandomSteps, NoneSeenIsABoundOnTheirRate) {
    const Synthesis record = noise_of(Colour::phono, 1.0, 2);
    const BenchShare bench;
    const Figure figure = random_steps(QuietRecord{record, std::nullopt}, 1, bench, {});
    EXPECT_FALSE(figure.value);
    ASSERT_TRUE(figure.bound);
    EXPECT_EQ(figure.bound->side, Bound::Side::at_most);
    EXPECT_NEAR(figure.bound->value, 3.0 / 0.9, 0.05);
    EXPECT_GT(detail(figure, "smallest_step"), 0.0);
}

TEST(RandomSteps, AShortRecordSaysHowLongItMustBe) {
    const Synthesis record = noise_of(Colour::white, 0.1, 2);
    const auto found = random_steps(QuietRecord{record, std::nullopt});
    ASSERT_FALSE(found);
    EXPECT_NE(found.error().what.find("0.25 s"), std::string::npos);
}

TEST(RandomSteps, DigitalSilenceHasNoSteps) {
    const Synthesis record{rate, 0.5};
    const auto found = random_steps(QuietRecord{record, 50_Hz});
    ASSERT_TRUE(found);
    EXPECT_TRUE(found->steps.empty());
}

}  // namespace
}  // namespace afterload::analysis
