// The watch of noise and music against what was played.
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
// The reference is learnt by then.
constexpr double happens_s = 8.0123;
constexpr double ends_s = 9.5;
constexpr double later_s = 16.0;

SoakBench pink_bench(double at_rate = rate) {
    return SoakBench{at_rate, [noise = PinkNoise{at_rate, 1}]() mutable { return 0.2 * noise(); },
                     a_signal(), latency};
}
SoakBench music_bench(double at_rate = rate) {
    return SoakBench{at_rate, [music = MusicLike{at_rate, 1}]() mutable { return 0.2 * music(); },
                     a_signal(), latency};
}

// Seconds since what happens began, on the unit's side of the latency.
double since(std::int64_t frame) {
    return static_cast<double>(frame) / rate - happens_s;
}
// The moment as the record has it.
constexpr double heard_s = happens_s + static_cast<double>(latency) / rate;

// Plays with `happening` from happens_s on, and expects one event of one channel (0: all).
SoakEvent the_one_event(SoakBench& bench, SoakBench::Happening happening) {
    bench.happening = std::move(happening);
    bench.play(ends_s);
    bench.finish();
    const auto events = bench.at_the_end();
    EXPECT_THAT(events, SizeIs(1));
    return events.empty() ? SoakEvent{} : events.front();
}

void expect_at(const SoakBench& bench, const SoakEvent& event, double told_within) {
    EXPECT_NEAR(event.seen.start.in<Seconds>(), heard_s, 0.02);
    EXPECT_LE(bench.first_told(event.id), heard_s + told_within + 1000.0 / rate);
}

TEST(SignalWatch, HasNoEventInFiveMinutesOfPinkNoiseAtAHealthyUnit) {
    // A quarter of the card's rate, and so a quarter of the time that the samples take.
    SoakBench bench = pink_bench(12000.0);
    bench.play(300.0);
    bench.finish();
    EXPECT_THAT(bench.events, IsEmpty());
    EXPECT_FALSE(bench.watch().learning() && bench.readings.back().learning);
}

TEST(SignalWatch, HasNoEventInFiveMinutesOfMusicAtAHealthyUnit) {
    SoakBench bench = music_bench(12000.0);
    bench.play(300.0);
    bench.finish();
    EXPECT_THAT(bench.events, IsEmpty());
}

class FirstBass : public testing::TestWithParam<double> {};

// The reference holds middle notes alone; then the bass comes in, as after the first bars of a
// song.
TEST_P(FirstBass, ThatTheReferenceDidNotHoldIsNoEvent) {
    std::int64_t n = 0;
    const auto source = [&n] {
        const double t = static_cast<double>(n++) / rate;
        const auto note = [t](double hertz) {
            return std::sin(2.0 * std::numbers::pi * hertz * t);
        };
        const double fade = std::clamp((t - 8.0) / 0.2, 0.0, 1.0);
        return 0.1 * (note(620.0) + note(930.0) + note(1410.0)) + 0.3 * fade * note(GetParam());
    };
    SoakBench bench{rate, source, a_signal(), latency};
    bench.play(14.0);
    bench.finish();
    EXPECT_THAT(bench.events, IsEmpty());
}
INSTANTIATE_TEST_SUITE_P(Notes, FirstBass, testing::Values(41.2, 65.4, 100.0, 140.0, 165.0));

TEST(SignalWatch, ReadsTheGainOfAHealthyUnitToAHundredthOfADecibelASecond) {
    SoakBench bench = pink_bench();
    bench.play(12.0);
    // 20 times and 0.4 dB more at the lowest octaves; 20.3 times and a third of that.
    const ChannelReading& left = bench.readings.back().channels[0];
    ASSERT_TRUE(left.gain);
    EXPECT_GT(left.gain->decibels(), 26.02);
    EXPECT_LT(left.gain->decibels(), 26.45);
    for (const SoakReading& reading : bench.readings) {
        if (reading.channels[0].gain_away) {
            EXPECT_LT(std::abs(reading.channels[0].gain_away->decibels()), 0.01);
            EXPECT_LT(std::abs(reading.channel_difference->decibels()), 0.01);
        }
    }
}

TEST(SignalWatch, LearnsTheLatencyOfTheCard) {
    SoakBench bench = pink_bench();
    bench.play(7.0);
    // What the unit itself delays by is less than a frame.
    EXPECT_NEAR(bench.watch().latency_frames().value_or(-1.0), 480.0, 1.0);
}

TEST(SignalWatch, FindsAStepOfThreeTenthsOfADecibelInOneChannelOfNoise) {
    SoakBench bench = pink_bench();
    const SoakEvent event = the_one_event(bench, [](std::int64_t n, double& left, double&) {
        left *= since(n) >= 0.0 ? 0.96605 : 1.0;
    });
    EXPECT_EQ(event.seen.kind, Kind::level);
    EXPECT_EQ(event.seen.channel, 1);
    EXPECT_NEAR(event.seen.size, -0.30, 0.02);
    EXPECT_TRUE(event.seen.timeline_intact);
    EXPECT_EQ(event.seen.blame, Blame::unit_or_lead);
    expect_at(bench, event, 0.1);
}

TEST(SignalWatch, FindsAStepOfThreeTenthsOfADecibelInMusic) {
    SoakBench bench = music_bench();
    const SoakEvent event = the_one_event(bench, [](std::int64_t n, double&, double& right) {
        right *= since(n) >= 0.0 ? 1.03514 : 1.0;
    });
    EXPECT_EQ(event.seen.kind, Kind::level);
    EXPECT_EQ(event.seen.channel, 2);
    EXPECT_NEAR(event.seen.size, 0.30, 0.03);
}

TEST(SignalWatch, TellsADropoutOfFiveMillisecondsInNoise) {
    SoakBench bench = pink_bench();
    const SoakEvent event = the_one_event(bench, [](std::int64_t n, double& left, double&) {
        left *= since(n) >= 0.0 && since(n) < 0.005 ? 0.0 : 1.0;
    });
    EXPECT_EQ(event.seen.kind, Kind::dropout);
    EXPECT_EQ(event.seen.channel, 1);
    EXPECT_NEAR(event.seen.duration.in<Seconds>(), 0.005, 0.0011);
    EXPECT_EQ(event.seen.blame, Blame::unit_or_lead);
    expect_at(bench, event, 0.1);
}

TEST(SignalWatch, TellsADropoutOfBothChannelsAsOneEventThatMayBeTheMains) {
    SoakBench bench = pink_bench();
    const SoakEvent event = the_one_event(bench, [](std::int64_t n, double& left, double& right) {
        const double factor = since(n) >= 0.0 && since(n) < 0.2 ? 0.01 : 1.0;
        left *= factor;
        right *= factor;
    });
    EXPECT_EQ(event.seen.kind, Kind::dropout);
    EXPECT_EQ(event.seen.channel, 0);
    EXPECT_NEAR(event.seen.duration.in<Seconds>(), 0.2, 0.02);
    EXPECT_EQ(event.seen.blame, Blame::unit_or_mains);
    expect_at(bench, event, 0.1);
}

class Slip : public testing::TestWithParam<std::int64_t> {};

TEST_P(Slip, OfWholeSamplesIsTheRigs) {
    SoakBench bench = pink_bench();
    bench.play(heard_s);
    bench.slip(GetParam());
    bench.play(ends_s - heard_s);
    bench.finish();
    const auto events = bench.at_the_end();
    ASSERT_THAT(events, SizeIs(1));
    const WatchEvent& seen = events.front().seen;
    EXPECT_EQ(seen.kind, GetParam() > 0 ? Kind::gap : Kind::repeat);
    EXPECT_EQ(seen.channel, 0);
    EXPECT_EQ(seen.size, static_cast<double>(std::abs(GetParam())));
    EXPECT_FALSE(seen.timeline_intact);
    EXPECT_EQ(seen.blame, Blame::rig);
    EXPECT_LE(bench.first_told(events.front().id), heard_s + 0.12);
}

INSTANTIATE_TEST_SUITE_P(Samples, Slip, testing::Values(1, -1, 2, -3, 64, 256, -256));

TEST(SignalWatch, TellsAConverterAtItsEndAsClippingOfTheRigAlone) {
    SoakBench bench{rate, [noise = PinkNoise{rate, 1}]() mutable { return 0.2 * noise(); },
                    a_signal(), latency, 5.0};
    const SoakEvent event = the_one_event(bench, [](std::int64_t n, double& left, double&) {
        left *= since(n) >= 0.0 && since(n) < 0.5 ? 6.0 : 1.0;
    });
    EXPECT_EQ(event.seen.kind, Kind::clipping);
    EXPECT_EQ(event.seen.channel, 1);
    EXPECT_EQ(event.seen.blame, Blame::rig);
    EXPECT_NEAR(event.seen.start.in<Seconds>(), heard_s, 0.1);
    EXPECT_NEAR(event.seen.duration.in<Seconds>(), 0.5, 0.15);
}

TEST(SignalWatch, TellsAUnitThatClipsForHalfASecondAsDistortion) {
    SoakBench bench = pink_bench();
    bench.happening = [](std::int64_t n, double& left, double&) {
        if (since(n) >= 0.0 && since(n) < 0.5) {
            left = std::clamp(left, -1.2, 1.2);
        }
    };
    bench.play(ends_s);
    bench.finish();
    bool distortion = false;
    for (const SoakEvent& event : bench.at_the_end()) {
        EXPECT_EQ(event.seen.channel, 1);
        EXPECT_EQ(event.seen.blame, Blame::unit_or_lead);
        if (event.seen.kind == Kind::distortion) {
            distortion = true;
            EXPECT_NEAR(event.seen.start.in<Seconds>(), heard_s, 0.1);
        }
    }
    EXPECT_TRUE(distortion) << testing::PrintToString(bench.events);
}

TEST(SignalWatch, FindsAnOffsetStepInNoise) {
    // The lowest band is known well once the stimulus has been heard for a while.
    SoakBench bench = pink_bench();
    bench.play(later_s);
    const SoakEvent event = the_one_event(bench, [](std::int64_t n, double& left, double&) {
        left += since(n) >= later_s ? 0.1 : 0.0;
    });
    EXPECT_EQ(event.seen.kind, Kind::offset);
    EXPECT_EQ(event.seen.channel, 1);
    EXPECT_NEAR(event.seen.size, 0.1, 0.03);
    EXPECT_EQ(event.seen.blame, Blame::unit_or_lead);
    EXPECT_NEAR(event.seen.start.in<Seconds>(), later_s + heard_s, 0.1);
    EXPECT_LE(bench.first_told(event.id), later_s + heard_s + 0.2);
}

TEST(SignalWatch, FindsHumThatRisesByTenDecibelsAboveWhatTheNoiseLeavesOfIt) {
    SoakBench bench = pink_bench();
    bench.left().hum_volts = 0.03;
    bench.play(later_s);
    const SoakEvent event = the_one_event(bench, [](std::int64_t n, double& left, double&) {
        // In phase with the unit's own: 0.03 V and 0.0649 V make 10 dB more.
        const double t = static_cast<double>(n) / rate;
        left += since(n) >= later_s
                    ? 0.0649 * std::sqrt(2.0) * std::sin(2.0 * std::numbers::pi * 50.0 * t)
                    : 0.0;
    });
    EXPECT_EQ(event.seen.kind, Kind::hum);
    EXPECT_EQ(event.seen.channel, 1);
    EXPECT_GT(event.seen.size, 0.06);
    EXPECT_NEAR(event.seen.start.in<Seconds>(), later_s + heard_s, 0.1);
    EXPECT_LE(bench.first_told(event.id), later_s + heard_s + 0.25);
}

TEST(SignalWatch, TellsNoiseOfTheUnitApartFromItsSignal) {
    SoakBench bench = pink_bench();
    const SoakEvent event = the_one_event(
        bench, [engine = std::mt19937_64{9}, normal = std::normal_distribution<double>{0.0, 0.15}](
                   std::int64_t n, double&, double& right) mutable {
            const double more = normal(engine);
            right += since(n) >= 0.0 && since(n) < 0.4 ? more : 0.0;
        });
    EXPECT_EQ(event.seen.kind, Kind::noise);
    EXPECT_EQ(event.seen.channel, 2);
    EXPECT_NEAR(event.seen.duration.in<Seconds>(), 0.4, 0.1);
}

TEST(SignalWatch, TellsAFrozenPlaybackByItsBuffer) {
    // The source repeats its last 1024 frames, while the stimulus should have gone on.
    constexpr std::size_t buffer = 1024;
    PinkNoise noise{rate, 1};
    HealthyChannel left{rate, 1};
    HealthyChannel right{rate, 2};
    std::vector<double> last;
    StimulusWatch watch{SoakBench::settings(rate, 60.0), a_signal()};
    std::int64_t frame = 0;
    const auto froze = static_cast<std::int64_t>(8.0 * rate);
    for (int block = 0; block < 95; ++block) {
        std::vector<double> x;
        std::vector<double> l;
        std::vector<double> r;
        for (int n = 0; n < 4800; ++n, ++frame) {
            const double wanted = 0.2 * noise();
            double played = wanted;
            if (frame < froze) {
                last.push_back(wanted);
                if (last.size() > buffer) {
                    last.erase(last.begin());
                }
            } else {
                played = last[static_cast<std::size_t>(frame - froze) % buffer];
            }
            x.push_back(wanted);
            l.push_back(left(played));
            r.push_back(right(played));
        }
        const std::vector<std::span<const double>> record{l, r};
        const std::vector<std::span<const double>> stimulus{x};
        watch.feed(record, stimulus);
    }
    const auto events = watch.take_events();
    ASSERT_THAT(events, SizeIs(1));
    EXPECT_EQ(events.front().seen.kind, Kind::frozen);
    EXPECT_EQ(events.front().seen.size, 1024.0);
    EXPECT_EQ(events.front().seen.blame, Blame::rig);
    EXPECT_TRUE(events.front().lasts);
    EXPECT_NEAR(events.front().seen.start.in<Seconds>(), 8.0, 0.06);
}

TEST(SignalWatch, TellsACardThatGivesOneAndTheSameSample) {
    SoakBench bench = pink_bench();
    const SoakEvent event = the_one_event(bench, [](std::int64_t n, double& left, double& right) {
        if (since(n) >= 0.0 && since(n) < 0.3) {
            left = 0.125;
            right = -0.25;
        }
    });
    EXPECT_EQ(event.seen.kind, Kind::frozen);
    EXPECT_EQ(event.seen.size, 1.0);
    EXPECT_EQ(event.seen.blame, Blame::rig);
}

TEST(SignalWatch, NeedsNothingLearntAnewWhenTheDriveIsRegulated) {
    double drive = 0.2;
    SoakBench bench{rate,
                    [&drive, noise = PinkNoise{rate, 1}]() mutable { return drive * noise(); },
                    a_signal(), latency};
    bench.play(8.0);
    drive *= std::pow(10.0, 0.5 / 20.0);
    bench.watch().drive_changed(Gain{0.5});
    bench.play(2.0);
    bench.finish();
    EXPECT_THAT(bench.events, IsEmpty());
    EXPECT_FALSE(bench.readings.back().learning);
}

TEST(SignalWatch, WatchesSilenceForHumAndNoise) {
    SoakBench bench{rate, [] { return 0.0; }, {}, 0};
    bench.happening = [](std::int64_t n, double& left, double&) {
        const double t = static_cast<double>(n) / rate;
        left += t >= 4.0 ? 2e-3 * std::sin(2.0 * std::numbers::pi * 50.0 * t) : 0.0;
    };
    bench.play(5.0);
    bench.finish();
    const auto events = bench.at_the_end();
    ASSERT_FALSE(events.empty());
    EXPECT_TRUE(std::any_of(events.begin(), events.end(), [](const SoakEvent& event) {
        return event.seen.kind == Kind::hum && event.seen.channel == 1;
    }));
    for (const SoakEvent& event : events) {
        EXPECT_GT(event.seen.start.in<Seconds>(), 3.9);
    }
}

TEST(SignalWatch, CountsWhatIsNoNumberAndGoesOn) {
    SoakBench bench = pink_bench();
    bench.happening = [](std::int64_t n, double& left, double&) {
        left = n == 100000 ? std::nan("") : left;
    };
    bench.play(7.0);
    EXPECT_EQ(bench.watch().not_finite(), 1);
    EXPECT_TRUE(bench.readings.back().channels[0].gain);
}

TEST(SignalWatch, SaysTheSameHoweverTheSamplesAreCutIntoBlocks) {
    PinkNoise noise{rate, 3};
    HealthyChannel left{rate, 1};
    HealthyChannel right{rate, 2};
    std::vector<double> x;
    std::vector<double> l;
    std::vector<double> r;
    for (int n = 0; n < 480000; ++n) {
        x.push_back(0.2 * noise());
        l.push_back(left(x.back()) * (n > 400000 ? 0.9 : 1.0));
        r.push_back(right(x.back()));
    }
    const auto told = [&](std::size_t block) {
        StimulusWatch watch{SoakBench::settings(rate, 60.0), a_signal()};
        for (std::size_t first = 0; first < x.size(); first += block) {
            const std::size_t count = std::min(block, x.size() - first);
            const std::vector<std::span<const double>> record{std::span{l}.subspan(first, count),
                                                              std::span{r}.subspan(first, count)};
            const std::vector<std::span<const double>> played{std::span{x}.subspan(first, count)};
            watch.feed(record, played);
        }
        watch.finish();
        std::vector<double> numbers;
        for (const SoakEvent& event : watch.take_events()) {
            numbers.push_back(event.seen.start.in<Seconds>());
            numbers.push_back(event.seen.size);
        }
        for (const SoakReading& reading : watch.take_readings()) {
            numbers.push_back(reading.channels[0].level.in<VoltsRms>());
        }
        return numbers;
    };
    const auto whole = told(x.size());
    const auto pieces = told(777);
    ASSERT_EQ(whole.size(), pieces.size());
    EXPECT_GT(whole.size(), 10U);
    for (std::size_t i = 0; i < whole.size(); ++i) {
        // Sums of slices that are cut elsewhere differ in their last digits.
        EXPECT_NEAR(whole[i], pieces[i], 1e-3 * std::abs(whole[i]) + 1e-9);
    }
}

}  // namespace
}  // namespace afterload::analysis::test
