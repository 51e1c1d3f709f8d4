#include "analysis/soundness.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace afterload::analysis {
namespace {

using namespace literals;
using test::Synthesis;

Synthesis tone(double f, double from, double to, double change_db, std::uint64_t seed) {
    Synthesis record{48000.0, 1.0};
    record.line(f * 1.0001, 1.0, 0.3).line(2.0 * f, 0.01, 0.7);
    const double ratio = std::pow(10.0, change_db / 20.0);
    record.modulated([=](double t) { return t >= from && t < to ? ratio : 1.0; });
    record.line(50.02, 2e-3, 0.2).noise(1e-3, seed);
    return record;
}

TEST(LevelEvent, DropoutsAndStepsAreFoundWithTheirTimesAndSizes) {
    for (const double f : {210.0, 997.0, 6667.0}) {
        for (const double change : {-0.4, 0.5, -3.0, -20.0}) {
            for (const double length : {0.008, 0.05, 0.2}) {
                const Synthesis record = tone(f, 0.6, 0.6 + length, change, 3);
                const auto events = level_events({record}, Hertz{f});
                ASSERT_EQ(events.size(), 1U) << f << " " << change << " " << length;
                EXPECT_EQ(events[0].channel, 1);
                EXPECT_NEAR(events[0].start.in<Seconds>(), 0.6, 0.004);
                EXPECT_NEAR(events[0].length.in<Seconds>(), length, 0.006);
                EXPECT_NEAR(events[0].change_db, change, 0.1 * std::abs(change) + 0.1)
                    << f << " " << length;
            }
        }
    }
}

TEST(LevelEvent, AStepLastsToTheEndOfTheRecord) {
    const auto late = level_events({tone(997.0, 0.7, 2.0, -1.0, 3)}, 997_Hz);
    ASSERT_EQ(late.size(), 1U);
    EXPECT_NEAR(late[0].start.in<Seconds>(), 0.7, 0.002);
    EXPECT_NEAR(late[0].length.in<Seconds>(), 0.3, 0.003);
    EXPECT_NEAR(late[0].change_db, -1.0, 0.05);
    // Early in the record too: the level before it is what it moved away from.
    const auto early = level_events({tone(997.0, 0.3, 2.0, -1.0, 3)}, 997_Hz);
    ASSERT_EQ(early.size(), 1U);
    EXPECT_NEAR(early[0].start.in<Seconds>(), 0.3, 0.002);
    EXPECT_NEAR(early[0].change_db, -1.0, 0.05);
}

TEST(LevelEvent, LowToneNeedsOnePeriod) {
    const auto events = level_events({tone(50.0 * 1.31, 0.5, 0.55, -3.0, 3)}, 65.5_Hz);
    ASSERT_EQ(events.size(), 1U);
    EXPECT_NEAR(events[0].change_db, -3.0, 0.3);
}

TEST(LevelEvent, ChannelsThatMoveTogetherAreOneEvent) {
    const Synthesis left = tone(997.0, 0.6, 0.65, -3.0, 3);
    const Synthesis right = tone(997.0, 0.6, 0.65, -3.0, 4);
    const Synthesis steady = tone(997.0, 0.6, 0.65, 0.0, 5);
    const auto both = level_events({left, right}, 997_Hz);
    ASSERT_EQ(both.size(), 1U);
    EXPECT_EQ(both[0].channel, 0);
    const auto one = level_events({steady, right}, 997_Hz);
    ASSERT_EQ(one.size(), 1U);
    EXPECT_EQ(one[0].channel, 2);
}

TEST(LevelEvent, ASlipOfTheTimelineIsNoLevelEvent) {
    for (const std::ptrdiff_t missing : {7, 24, 31}) {
        Synthesis record = tone(997.0, 0.0, 0.0, 0.0, 6);
        record.volts().erase(record.volts().begin() + 21000,
                             record.volts().begin() + 21000 + missing);
        EXPECT_TRUE(level_events({record}, 997_Hz).empty()) << missing;
    }
}

TEST(LevelEvent, DriftIsNoEvent) {
    Synthesis record{48000.0, 2.0};
    record.line(997.0, 1.0, 0.2).modulated([](double t) { return 1.0 + 0.1 * std::exp(-t / 0.3); });
    EXPECT_TRUE(level_events({record.noise(1e-4, 2)}, 997_Hz).empty());
}

TEST(LevelEvent, AChannelWithoutAToneHasNone) {
    Synthesis noise{48000.0, 1.0};
    noise.noise(1e-3, 4);
    EXPECT_TRUE(level_events({noise}, 997_Hz).empty());
}

}  // namespace
}  // namespace afterload::analysis
