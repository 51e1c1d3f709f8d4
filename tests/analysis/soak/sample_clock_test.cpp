#include "analysis/soak/sample_clock.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace afterload::analysis {
namespace {

constexpr double rate = 48000.0;

// Blocks of 1024 frames that come up to 8 ms late, on a card that is fast by 80 ppm.
struct Card {
    SampleClock clock{rate};
    std::int64_t counted = 0;
    double taken_s = 0.0;
    int block = 0;
    std::optional<SampleClock::Found> next(std::int64_t lost = 0) {
        taken_s += static_cast<double>(1024 + lost) / (rate * (1.0 + 80e-6));
        counted += 1024;
        const double late_s = 0.008 * std::abs(std::sin(1.7 * ++block));
        return clock.add(counted, 100.0 + taken_s + late_s);
    }
};

TEST(SampleClock, TakesLateBlocksAndAFastCardForWhatTheyAre) {
    Card card;
    for (int i = 0; i < 20000; ++i) {
        EXPECT_FALSE(card.next());
    }
}

TEST(SampleClock, CountsABufferThatWasLost) {
    Card card;
    for (int i = 0; i < 2000; ++i) {
        EXPECT_FALSE(card.next());
    }
    std::optional<SampleClock::Found> found = card.next(4096);
    for (int i = 0; i < 600 && !found; ++i) {
        found = card.next();
    }
    ASSERT_TRUE(found);
    EXPECT_NEAR(static_cast<double>(found->frames), 4096.0, 0.003 * rate);
}

TEST(SampleClock, CountsFramesThatCameTwice) {
    Card card;
    for (int i = 0; i < 2000; ++i) {
        EXPECT_FALSE(card.next());
    }
    std::optional<SampleClock::Found> found = card.next(-2048);
    for (int i = 0; i < 600 && !found; ++i) {
        found = card.next();
    }
    ASSERT_TRUE(found);
    EXPECT_NEAR(static_cast<double>(found->frames), -2048.0, 0.003 * rate);
}

}  // namespace
}  // namespace afterload::analysis
