#include "analysis/soak/event_pattern.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace afterload::analysis {
namespace {

// Twenty minutes on, twenty off, six times; the sink goes from 22 towards 62 degC and back with a
// time constant of ten minutes. One entry in ten seconds.
std::vector<TemperatureLogged> cycles() {
    std::vector<TemperatureLogged> log;
    double temperature = 22.0;
    for (int s = 0; s < 6 * 2400; s += 10) {
        const bool on = s % 2400 < 1200;
        temperature += ((on ? 62.0 : 22.0) - temperature) * 10.0 / 600.0;
        log.push_back({Seconds{static_cast<double>(s)}, Celsius{temperature},
                       Seconds{on ? static_cast<double>(s % 2400) : 0.0}, true});
    }
    return log;
}

SoakEvent at(double time_s) {
    SoakEvent event;
    event.seen.start = Seconds{time_s};
    return event;
}

TEST(EventPattern, FindsThatEventsComeNearOneTemperatureOnTheWayUp) {
    const auto log = cycles();
    std::vector<SoakEvent> events;
    for (std::size_t i = 1; i < log.size(); ++i) {
        if (log[i - 1].temperature.in<Celsius>() < 47.0 &&
            log[i].temperature.in<Celsius>() >= 47.0) {
            // Not to the same tenth of a degree each time.
            events.push_back(
                at(log[i].time.in<Seconds>() + 7.0 * static_cast<double>(events.size() % 3)));
        }
    }
    ASSERT_EQ(events.size(), 6U);
    const auto pattern = pattern_of(events, log);
    ASSERT_TRUE(pattern);
    EXPECT_EQ(pattern->inside, 6);
    EXPECT_EQ(pattern->all, 6);
    EXPECT_LT(pattern->by_chance, 1e-4);
    if (pattern->against != EventPattern::Against::time_since_drive) {
        EXPECT_EQ(pattern->against, EventPattern::Against::temperature_rising);
        EXPECT_NEAR(pattern->centre, 47.5, 1.0);
        EXPECT_THAT(pattern->finding, testing::HasSubstr("on the way up"));
    }
}

TEST(EventPattern, StatesAChanceThatIsTheBinomialTailTimesTheWindowsTried) {
    // A log that spends 1/100 of its time in each of a hundred degrees, drive begun once: the
    // chance of three in one window of 1 degC is at most C(2,2) (2/100)², times the windows.
    std::vector<TemperatureLogged> log;
    for (int s = 0; s < 10000; s += 10) {
        log.push_back({Seconds{static_cast<double>(s)}, Celsius{s / 100.0 + 0.05},
                       Seconds{static_cast<double>(s)}, true});
    }
    const std::vector<SoakEvent> events{at(5010.0), at(5030.0), at(5060.0)};
    const auto pattern = pattern_of(events, log, 1.0);
    ASSERT_TRUE(pattern);
    EXPECT_EQ(pattern->inside, 3);
    // 11 entries of a thousand lie in [x, x + 1 degC]; rising, falling and any way: 3 · 3 · 2
    // windows.
    EXPECT_NEAR(pattern->exposure, 0.011, 0.0011);
    EXPECT_NEAR(pattern->by_chance, 18.0 * pattern->exposure * pattern->exposure, 1e-9);
}

TEST(EventPattern, FindsNothingInEventsThatComeEvenly) {
    // At most one in twenty draws may look like a pattern, by the definition of `most`.
    const auto log = cycles();
    int found = 0;
    for (std::uint64_t seed = 1; seed <= 200; ++seed) {
        std::mt19937_64 engine{seed};
        std::uniform_real_distribution<double> anywhere{0.0, 6 * 2400.0 - 10.0};
        std::vector<SoakEvent> events;
        for (int i = 0; i < 8; ++i) {
            events.push_back(at(anywhere(engine)));
        }
        found += pattern_of(events, log) ? 1 : 0;
    }
    // 200 draws at a chance of 0.05 and less: 10, and three standard deviations of 3.1.
    EXPECT_LE(found, 19);
}

TEST(EventPattern, CountsAContactThatChattersOnce) {
    const auto log = cycles();
    std::vector<SoakEvent> events;
    for (int i = 0; i < 50; ++i) {
        events.push_back(at(500.0 + 0.1 * i));
    }
    EXPECT_FALSE(pattern_of(events, log));
}

}  // namespace
}  // namespace afterload::analysis
