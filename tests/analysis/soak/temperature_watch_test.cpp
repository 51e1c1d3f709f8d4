#include "analysis/soak/temperature_watch.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

namespace afterload::analysis {
namespace {

using Kind = TemperatureFinding::Kind;
using Weight = TemperatureFinding::Weight;

std::vector<WatchedSensor> two_at_the_sink() {
    WatchedSensor sensor;
    sensor.name = "sink left";
    sensor.place = "sink";
    sensor.warn = Celsius{70.0};
    sensor.stop = Celsius{85.5};
    sensor.warn_rise = 2.0;
    sensor.stop_rise = 5.0;
    WatchedSensor other = sensor;
    other.name = "sink right";
    return {sensor, other};
}

SensorReading read(double celsius) {
    SensorReading reading;
    reading.value = Celsius{celsius};
    return reading;
}

// A watch that is read each second.
struct Bench {
    explicit Bench(TemperatureSettings settings = {}) : watch{two_at_the_sink(), settings} {}
    void second(SensorReading left, SensorReading right, double watts = 60.0) {
        const std::vector<SensorReading> readings{left, right};
        for (auto& finding : watch.add(Seconds{now_s}, readings, Watts{watts}, Seconds{now_s})) {
            findings.push_back(std::move(finding));
        }
        now_s += 1.0;
    }
    [[nodiscard]] bool found(Kind kind) const {
        return std::any_of(findings.begin(), findings.end(),
                           [&](const TemperatureFinding& one) { return one.kind == kind; });
    }
    TemperatureWatch watch;
    std::vector<TemperatureFinding> findings;
    double now_s = 0.0;
};

TEST(TemperatureWatch, TakesAWarmUpForWhatItIs) {
    Bench bench;
    for (int s = 0; s < 3600; ++s) {
        const double t = 22.0 + 40.0 * (1.0 - std::exp(-s / 900.0));
        bench.second(read(t), read(t + 1.5));
    }
    EXPECT_THAT(bench.findings, testing::IsEmpty());
    EXPECT_NEAR(bench.watch.hottest("sink")->in<Celsius>(), 62.0 + 1.5 - 40.0 * std::exp(-4.0),
                0.1);
    EXPECT_FALSE(bench.watch.over_temperature());
}

TEST(TemperatureWatch, WarnsAndStopsAtItsLimitsOnceEach) {
    Bench bench;
    for (int s = 0; s < 3600; ++s) {
        const double t = 60.0 + 0.5 * s / 60.0;
        bench.second(read(t), read(t - 3.0));
    }
    ASSERT_EQ(bench.findings.size(), 4U);
    EXPECT_EQ(bench.findings[0].kind, Kind::warm);
    EXPECT_EQ(bench.findings[0].weight, Weight::flag);
    EXPECT_NEAR(bench.findings[0].time.in<Seconds>(), 1200.0, 1.5);
    EXPECT_EQ(bench.findings[1].kind, Kind::warm);
    EXPECT_EQ(bench.findings[2].kind, Kind::hot);
    EXPECT_EQ(bench.findings[2].weight, Weight::over_temperature);
    EXPECT_TRUE(bench.watch.over_temperature());
}

TEST(TemperatureWatch, FindsARunawayWithinMinutesAndFarBelowTheLimit) {
    Bench bench;
    for (int s = 0; s < 3000; ++s) {
        const double t = s < 2700 ? 50.0 : 50.0 + 6.0 * (s - 2700) / 60.0;
        bench.second(read(t), read(t));
    }
    ASSERT_TRUE(bench.found(Kind::runaway));
    ASSERT_TRUE(bench.found(Kind::fast));
    for (const TemperatureFinding& finding : bench.findings) {
        if (finding.kind == Kind::runaway) {
            EXPECT_LT(finding.time.in<Seconds>(), 2700.0 + 130.0);
            EXPECT_EQ(finding.weight, Weight::over_temperature);
        }
    }
}

TEST(TemperatureWatch, AllowsAFastRiseInTheFirstHalfHour) {
    Bench bench;
    for (int s = 0; s < 600; ++s) {
        bench.second(read(25.0 + 3.0 * s / 60.0), read(25.0 + 3.0 * s / 60.0));
    }
    EXPECT_FALSE(bench.found(Kind::fast));
}

class DeadSensor : public testing::TestWithParam<int> {};

TEST_P(DeadSensor, CountsAsTooHotAfterTwoReads) {
    Bench bench;
    for (int s = 0; s < 100; ++s) {
        bench.second(read(40.0 + 0.01 * s), read(40.0 + 0.01 * s));
    }
    SensorReading bad;
    switch (GetParam()) {
        case 0:
            break;  // nothing was read
        case 1:
            bad = read(41.0);
            bad.fault_code = true;
            break;
        case 2:
            bad = read(85.0);
            break;
        case 3:
            bad = read(-127.0);
            break;
        case 4:
            bad = read(41.0);
            bad.stamp = Seconds{50.0};
            break;
        default:
            bad = read(std::nan(""));
    }
    bench.second(bad, read(41.0));
    EXPECT_FALSE(bench.watch.over_temperature());  // one read may be missed
    bench.second(bad, read(41.0));
    EXPECT_TRUE(bench.watch.over_temperature());
    EXPECT_TRUE(bench.found(Kind::dead));
    EXPECT_FALSE(bench.watch.standing()[0].trusted);
    EXPECT_TRUE(bench.watch.standing()[1].trusted);
}

INSTANTIATE_TEST_SUITE_P(Ways, DeadSensor, testing::Range(0, 6));

TEST(TemperatureWatch, BelievesEightyFiveDegreesThatWereComeTo) {
    Bench bench;
    for (int s = 0; s < 60; ++s) {
        bench.second(read(84.5), read(84.5));
    }
    bench.second(read(85.0), read(84.75));
    bench.second(read(85.0), read(84.75));
    bench.second(read(85.0), read(84.75));
    EXPECT_FALSE(bench.found(Kind::dead));
}

TEST(TemperatureWatch, LetsASoakGoOnWithItsSecondSensorWhereThatIsAllowed) {
    TemperatureSettings settings;
    settings.second_suffices = true;
    Bench bench{settings};
    bench.second(read(40.0), read(40.0));
    for (int s = 0; s < 3; ++s) {
        bench.second({}, read(40.1));
    }
    EXPECT_TRUE(bench.found(Kind::dead));
    EXPECT_FALSE(bench.watch.over_temperature());
    for (int s = 0; s < 3; ++s) {
        bench.second({}, {});
    }
    EXPECT_TRUE(bench.watch.over_temperature());
}

TEST(TemperatureWatch, TakesAReadingThatStandsWhileThePowerChangedForFrozen) {
    Bench bench;
    for (int s = 0; s < 600; ++s) {
        bench.second(read(41.25), read(41.0 + 0.001 * s), 20.0);
    }
    EXPECT_FALSE(bench.found(Kind::frozen));
    int until = 0;
    while (!bench.found(Kind::frozen) && until < 600) {
        bench.second(read(41.25), read(41.6 + 0.01 * until), 80.0);
        ++until;
    }
    EXPECT_TRUE(bench.found(Kind::frozen));
    EXPECT_GE(until, 300);
    EXPECT_LT(until, 330);
    EXPECT_TRUE(bench.watch.over_temperature());
}

TEST(TemperatureWatch, TakesAReadingThatStandsWhileTheDriveGoesOnAndOffForFrozen) {
    Bench bench;
    int until = 0;
    for (; !bench.found(Kind::frozen) && until < 1200; ++until) {
        const double watts = until % 300 < 180 ? 80.0 : 25.0;
        bench.second(read(41.25), read(41.0 + 2.0 * std::sin(0.02 * until)), watts);
    }
    EXPECT_TRUE(bench.found(Kind::frozen));
    EXPECT_GE(until, 180 + 300);
    EXPECT_LT(until, 900);
}

// A sensor whose last digit stands still for hours, and a lamp on the same outlet at times.
TEST(TemperatureWatch, ForgetsAChangeOfPowerThatWasSoonOver) {
    Bench bench;
    for (int s = 0; s < 7200; ++s) {
        bench.second(read(41.25), read(41.5), s % 900 >= 860 ? 75.0 : 40.0);
    }
    EXPECT_FALSE(bench.found(Kind::frozen));
}

TEST(TemperatureWatch, TakesASteadyReadingOfASteadyThingForHealthy) {
    Bench bench;
    for (int s = 0; s < 7200; ++s) {
        bench.second(read(41.25), read(41.5), 60.0 + std::sin(0.1 * s));
    }
    EXPECT_THAT(bench.findings, testing::IsEmpty());
}

TEST(TemperatureWatch, FlagsTwoThatDisagreeAndCountsTheHotter) {
    Bench bench;
    for (int s = 0; s < 300; ++s) {
        bench.second(read(45.0 + 0.001 * s), read(57.0 + 0.001 * s));
    }
    ASSERT_EQ(bench.findings.size(), 1U);
    EXPECT_EQ(bench.findings.front().kind, Kind::apart);
    EXPECT_EQ(bench.findings.front().weight, Weight::flag);
    EXPECT_NEAR(bench.findings.front().value, 12.0, 1e-9);
    EXPECT_NEAR(bench.watch.hottest("sink")->in<Celsius>(), 57.3, 0.01);
}

}  // namespace
}  // namespace afterload::analysis
