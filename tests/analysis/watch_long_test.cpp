// Watches as long as a soak: no false alarm in an hour, and memory that does not grow in four.
#include "analysis/watch.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <sys/resource.h>
#include <vector>

namespace afterload::analysis::test {
namespace {

WatchSettings settings_at(double rate) {
    WatchSettings settings;
    settings.rate = SampleRate{rate};
    settings.full_scale.assign(2, VoltsPeak{1.0});
    settings.mains = Hertz{50.0};
    return settings;
}

void feed(Watch& watch, const std::vector<double>& left, const std::vector<double>& right) {
    const std::vector<std::span<const double>> block{left, right};
    watch.feed(block);
}

// Peak memory of this process so far.
double peak_mebibytes() {
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    return static_cast<double>(usage.ru_maxrss) / 1024.0;
}

TEST(LongWatch, HourOfACleanToneHasNoEvent) {
    // -6 dB of full scale, noise at -90 dB of it anew in every second, hum at -60 dB of the tone on
    // a mains that is never quite 50 Hz.
    constexpr double rate = 48000.0;
    Watch watch{settings_at(rate)};
    std::mt19937_64 engine{20};
    std::normal_distribution<double> normal{0.0, std::pow(10.0, -90.0 / 20.0) / std::sqrt(2.0)};
    std::vector<double> left(static_cast<std::size_t>(rate));
    std::vector<double> right(left.size());
    double hum_turns = 0.0;
    for (int second = 0; second < 3600; ++second) {
        const double mains = 50.0 + 0.05 * std::sin(two_pi * second / 600.0);
        for (std::size_t n = 0; n < left.size(); ++n) {
            // 997 Hz is whole in a second.
            const double angle = two_pi * 997.0 * static_cast<double>(n) / rate;
            hum_turns += mains / rate;
            const double hum = 5e-4 * std::cos(two_pi * (hum_turns - std::floor(hum_turns)));
            left[n] = 0.5 * std::cos(angle) + hum + normal(engine);
            right[n] = 0.5 * std::cos(angle + 0.3) - hum + normal(engine);
        }
        feed(watch, left, right);
    }
    watch.finish();
    EXPECT_THAT(watch.events(), testing::IsEmpty());
    EXPECT_THAT(watch.summary().unwatched, testing::IsEmpty());
}

TEST(LongWatch, FourHoursAtAHighRateFindTheLastFaultInMemoryThatDoesNotGrow) {
    constexpr double rate = 192000.0;
    const std::vector<double> left =
        Synthesis{rate, 1.0}.line(997.0, 0.5, 0.0).line(50.0, 5e-4, 1.0).noise(1e-5, 21).volts();
    const std::vector<double> right =
        Synthesis{rate, 1.0}.line(997.0, 0.4, 0.4).line(50.0, 4e-4, 1.0).noise(1e-5, 22).volts();
    std::vector<double> faulty = right;
    std::fill(faulty.begin() + 96000, faulty.begin() + 96960, 0.0);

    Watch watch{settings_at(rate)};
    double after_a_minute = 0.0;
    for (int second = 0; second < 4 * 3600; ++second) {
        feed(watch, left, second == 14398 ? faulty : right);
        if (second == 60) {
            after_a_minute = peak_mebibytes();
        }
    }
    watch.finish();
    // 0.3 s of two channels are 0.9 MiB: anything kept of four hours would be far more.
    EXPECT_LT(peak_mebibytes() - after_a_minute, 8.0);
    const std::vector<WatchEvent> events = watch.events();
    ASSERT_THAT(events, testing::SizeIs(1));
    EXPECT_EQ(events[0].kind, WatchEvent::Kind::dropout);
    EXPECT_EQ(events[0].channel, 2);
    EXPECT_NEAR(events[0].start.in<Seconds>(), 14398.5, 0.0005);
    EXPECT_NEAR(events[0].duration.in<Seconds>(), 0.005, 0.0008);
}

}  // namespace
}  // namespace afterload::analysis::test
