// The watch of a tone as a soak has it: told while it lasts.
#include "tests/analysis/soak/soak_bench.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace afterload::analysis::test {
namespace {

using testing::IsEmpty;
using testing::SizeIs;
using Kind = WatchEvent::Kind;
using Blame = WatchEvent::Blame;

constexpr double rate = 48000.0;
constexpr std::int64_t latency = 480;
constexpr double happens_s = 3.0123;
constexpr double heard_s = happens_s + 0.01;

SoakBench tone_bench(double hertz) {
    return SoakBench{rate, sine(rate, hertz, 0.33), a_tone(hertz), latency};
}
double since(std::int64_t frame) {
    return static_cast<double>(frame) / rate - happens_s;
}
SoakEvent the_one_event(SoakBench& bench, SoakBench::Happening happening) {
    bench.happening = std::move(happening);
    bench.play(4.5);
    bench.finish();
    const auto events = bench.at_the_end();
    EXPECT_THAT(events, SizeIs(1));
    return events.empty() ? SoakEvent{} : events.front();
}

TEST(ToneSection, HasNoEventAtAHealthyUnit) {
    SoakBench bench = tone_bench(997.0);
    bench.play(20.0);
    bench.finish();
    EXPECT_THAT(bench.events, IsEmpty());
    const ChannelReading& left = bench.readings.back().channels[0];
    // 20 times, what 150 Hz of the shelf leave at 997 Hz, and the third order: 1e-4 of 0.33².
    EXPECT_NEAR(left.gain->decibels(), 26.03, 0.02);
    EXPECT_NEAR(left.gain_away->decibels(), 0.0, 0.001);
    EXPECT_NEAR(left.hum->in<VoltsRms>(), 2e-4, 3e-5);
}

class BriefDropout : public testing::TestWithParam<double> {};

TEST_P(BriefDropout, OfFiveMillisecondsIsFoundToTheMillisecond) {
    SoakBench bench = tone_bench(GetParam());
    const SoakEvent event = the_one_event(bench, [](std::int64_t n, double& left, double&) {
        left *= since(n) >= 0.0 && since(n) < 0.005 ? 0.0 : 1.0;
    });
    EXPECT_EQ(event.seen.kind, Kind::dropout);
    EXPECT_EQ(event.seen.channel, 1);
    EXPECT_NEAR(event.seen.start.in<Seconds>(), heard_s, 0.001);
    EXPECT_NEAR(event.seen.duration.in<Seconds>(), 0.005, 0.001);
    EXPECT_EQ(event.seen.blame, Blame::unit_or_lead);
    EXPECT_LE(bench.first_told(event.id), heard_s + 0.1);
}

INSTANTIATE_TEST_SUITE_P(Tones, BriefDropout, testing::Values(997.0, 211.0, 6007.0));

TEST(ToneSection, TellsAStepAtOnceAndThatItLasts) {
    SoakBench bench = tone_bench(997.0);
    bench.happening = [](std::int64_t n, double& left, double&) {
        left *= since(n) >= 0.0 ? 0.95 : 1.0;
    };
    bench.play(4.5);
    ASSERT_THAT(bench.events, SizeIs(1));
    EXPECT_TRUE(bench.events.front().lasts);
    EXPECT_LE(bench.told_at.front(), heard_s + 0.1);
    bench.finish();
    ASSERT_THAT(bench.at_the_end(), SizeIs(1));
    EXPECT_FALSE(bench.at_the_end().front().lasts);
    EXPECT_NEAR(bench.at_the_end().front().seen.size, -0.4455, 0.01);
}

TEST(ToneSection, KeepsADropoutThatLastsUntilSomethingElseIsPlayed) {
    SoakBench bench = tone_bench(997.0);
    bench.happening = [](std::int64_t n, double& left, double& right) {
        left *= since(n) >= 0.0 ? 0.0 : 1.0;
        right *= since(n) >= 0.0 ? 0.0 : 1.0;
    };
    bench.play(5.5);
    bench.watch().relearn({});
    bench.play(0.5);
    bench.finish();
    const auto events = bench.at_the_end();
    ASSERT_THAT(events, SizeIs(1));
    EXPECT_EQ(events.front().seen.kind, Kind::dropout);
    EXPECT_EQ(events.front().seen.channel, 0);
    EXPECT_NEAR(events.front().seen.start.in<Seconds>(), heard_s, 0.001);
    EXPECT_NEAR(events.front().seen.duration.in<Seconds>(), 5.5 - heard_s, 0.03);
}

TEST(ToneSection, BlamesTheRigForASlipOfOneSample) {
    SoakBench bench = tone_bench(997.0);
    bench.play(heard_s);
    bench.slip(1);
    bench.play(1.0);
    bench.finish();
    const auto events = bench.at_the_end();
    ASSERT_THAT(events, SizeIs(1));
    EXPECT_EQ(events.front().seen.kind, Kind::gap);
    EXPECT_EQ(events.front().seen.channel, 0);
    EXPECT_FALSE(events.front().seen.timeline_intact);
    EXPECT_EQ(events.front().seen.blame, Blame::rig);
    // It is told once as many samples have come as might stand twice.
    EXPECT_LE(bench.first_told(events.front().id), heard_s + 0.15);
}

TEST(ToneSection, FindsHumThatRisesByTenDecibels) {
    SoakBench bench = tone_bench(997.0);
    const SoakEvent event = the_one_event(bench, [](std::int64_t n, double& left, double&) {
        const double t = since(n);
        left += t >= 0.0 ? 9e-4 * std::sin(2.0 * std::numbers::pi * 50.0 * t) : 0.0;
    });
    EXPECT_EQ(event.seen.kind, Kind::hum);
    EXPECT_EQ(event.seen.channel, 1);
    EXPECT_NEAR(event.seen.start.in<Seconds>(), heard_s, 0.1);
    EXPECT_EQ(event.seen.blame, Blame::unit_or_lead);
}

TEST(ToneSection, FindsAnOffsetStepAndNothingElse) {
    SoakBench bench = tone_bench(997.0);
    const SoakEvent event = the_one_event(bench, [](std::int64_t n, double&, double& right) {
        right += since(n) >= 0.0 ? 0.1 : 0.0;
    });
    EXPECT_EQ(event.seen.kind, Kind::offset);
    EXPECT_EQ(event.seen.channel, 2);
    EXPECT_NEAR(event.seen.start.in<Seconds>(), heard_s, 0.1);
    EXPECT_NEAR(event.seen.size, 0.1, 0.01);
}

TEST(ToneSection, TellsAUnitThatClipsForHalfASecondByItsLevelAndItsDistortion) {
    SoakBench bench = tone_bench(997.0);
    bench.happening = [](std::int64_t n, double& left, double&) {
        if (since(n) >= 0.0 && since(n) < 0.5) {
            left = std::clamp(left, -5.5, 5.5);
        }
    };
    bench.play(4.5);
    bench.finish();
    bool distortion = false;
    for (const SoakEvent& event : bench.at_the_end()) {
        EXPECT_EQ(event.seen.channel, 1);
        EXPECT_EQ(event.seen.blame, Blame::unit_or_lead);
        EXPECT_NEAR(event.seen.start.in<Seconds>(), heard_s, 0.1);
        distortion = distortion || event.seen.kind == Kind::distortion;
    }
    EXPECT_TRUE(distortion);
}

TEST(ToneSection, IsNotDisturbedByARegulationThatItWasTold) {
    double drive = 1.0;
    SoakBench bench{rate,
                    [&drive, tone = sine(rate, 997.0, 0.3)]() mutable { return drive * tone(); },
                    a_tone(997.0), latency};
    bench.play(4.0);
    drive = std::pow(10.0, 0.4 / 20.0);
    bench.watch().drive_changed(Gain{0.4});
    bench.play(4.0);
    bench.finish();
    EXPECT_THAT(bench.at_the_end(), IsEmpty());
    EXPECT_NEAR(bench.readings.back().channels[0].gain_away->decibels(), 0.0, 0.005);
}

TEST(ToneSection, NoticesAGainThatIsAnotherBehindARegulation) {
    double drive = 1.0;
    double loss = 1.0;
    SoakBench bench{rate,
                    [&drive, tone = sine(rate, 997.0, 0.3)]() mutable { return drive * tone(); },
                    a_tone(997.0), latency};
    bench.happening = [&loss](std::int64_t, double&, double& right) { right *= loss; };
    bench.play(4.0);
    drive = std::pow(10.0, 0.4 / 20.0);
    loss = 0.94;
    bench.watch().drive_changed(Gain{0.4});
    bench.play(4.0);
    bench.finish();
    const auto events = bench.at_the_end();
    ASSERT_THAT(events, SizeIs(1));
    EXPECT_EQ(events.front().seen.kind, Kind::level);
    EXPECT_EQ(events.front().seen.channel, 2);
    EXPECT_NEAR(events.front().seen.size, -0.54, 0.02);
}

}  // namespace
}  // namespace afterload::analysis::test
