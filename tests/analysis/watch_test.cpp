// What happens to a watched tone is told once, with its place and size; what does not happen is
// not.
#include "analysis/watch.hpp"

#include "tests/analysis/synthesis.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <ostream>
#include <string>
#include <vector>

namespace afterload::analysis {

void PrintTo(const WatchEvent& event, std::ostream* out) {
    *out << name(event.kind) << " ch " << event.channel << " at " << event.start.in<Seconds>()
         << " for " << event.duration.in<Seconds>() << ": " << event.size << " "
         << size_unit(event.kind) << ", " << name(event.blame);
}

namespace test {
namespace {

using Kind = WatchEvent::Kind;
using Blame = WatchEvent::Blame;
using Channels = std::vector<std::vector<double>>;

constexpr double rate = 48000.0;

// A tone with H2 at -80 dB, noise at -90 dB of full scale, hum at -60 dB of the tone: what a good
// bench gives.
std::vector<double> tone(double seconds, double hertz = 997.0, double amplitude = 0.5,
                         std::uint64_t seed = 1, double at_rate = rate) {
    Synthesis made{at_rate, seconds};
    made.line(hertz, amplitude, 0.3).line(2.0 * hertz, 1e-4 * amplitude, 1.0);
    made.line(50.01, 1e-3 * amplitude, 0.5).line(100.02, 3e-4 * amplitude, 2.0);
    made.noise(std::pow(10.0, -90.0 / 20.0) / std::numbers::sqrt2, seed);
    return made.volts();
}

Channels stereo(double seconds, double hertz = 997.0) {
    return {tone(seconds, hertz, 0.5, 1), tone(seconds, hertz, 0.4, 2)};
}

struct Watched {
    std::vector<WatchEvent> events;
    WatchSummary summary;
};

Watched watched(const Channels& channels, std::optional<Hertz> nominal = std::nullopt,
                std::size_t block = 5000, double at_rate = rate) {
    WatchSettings settings;
    settings.rate = SampleRate{at_rate};
    settings.full_scale.assign(channels.size(), VoltsPeak{1.0});
    settings.tone = nominal;
    settings.mains = Hertz{50.0};
    Watch watch{settings};
    std::vector<std::span<const double>> part(channels.size());
    for (std::size_t first = 0; first < channels.front().size(); first += block) {
        for (std::size_t c = 0; c < channels.size(); ++c) {
            part[c] =
                std::span{channels[c]}.subspan(first, std::min(block, channels[c].size() - first));
        }
        watch.feed(part);
    }
    watch.finish();
    return {watch.events(), watch.summary()};
}

void scale(std::vector<double>& samples, double from_s, double to_s, double factor) {
    const auto from = static_cast<std::size_t>(std::lround(from_s * rate));
    const auto to = std::min(samples.size(), static_cast<std::size_t>(std::lround(to_s * rate)));
    for (std::size_t n = from; n < to; ++n) {
        samples[n] *= factor;
    }
}

void cut(Channels& channels, std::size_t at, std::size_t count) {
    for (auto& channel : channels) {
        const auto first = channel.begin() + static_cast<std::ptrdiff_t>(at);
        channel.erase(first, first + static_cast<std::ptrdiff_t>(count));
    }
}

void play_again(Channels& channels, std::size_t at, std::size_t count) {
    for (auto& channel : channels) {
        const std::vector<double> again(channel.begin() + static_cast<std::ptrdiff_t>(at - count),
                                        channel.begin() + static_cast<std::ptrdiff_t>(at));
        channel.insert(channel.begin() + static_cast<std::ptrdiff_t>(at), again.begin(),
                       again.end());
    }
}

double decibels(double db) {
    return std::pow(10.0, db / 20.0);
}

// The only event, or a failure that prints them all.
WatchEvent only(const Watched& seen) {
    EXPECT_THAT(seen.events, testing::SizeIs(1));
    return seen.events.empty() ? WatchEvent{} : seen.events.front();
}

TEST(Watch, TellsNothingOfAToneOnWhichNothingHappens) {
    // 20 Hz to 19 kHz; at 50.3 and 100.4 Hz the tone beats with the hum beside it.
    for (const double hertz : {20.0, 50.3, 100.4, 210.0, 440.0, 997.0, 6007.0, 19000.0}) {
        SCOPED_TRACE(std::to_string(hertz) + " Hz");
        const Watched seen = watched(stereo(16.0, hertz));
        EXPECT_THAT(seen.events, testing::IsEmpty());
        EXPECT_TRUE(seen.summary.signal_found);
        EXPECT_THAT(seen.summary.unwatched, testing::IsEmpty());
    }
}

TEST(Watch, TellsNothingOfASlowClockOrASlowDrift) {
    // 200 ppm off the nominal; the level drifts by 1 dB in a minute, the clock by 2 ppm.
    Channels channels{std::vector<double>(static_cast<std::size_t>(60.0 * rate))};
    for (std::size_t n = 0; n < channels[0].size(); ++n) {
        const double t = static_cast<double>(n) / rate;
        const double turns = 997.2 * t + 0.5 * 997.0 * 2e-6 / 60.0 * t * t;
        channels[0][n] = 0.5 * decibels(-t / 60.0) * std::cos(two_pi * (turns - std::floor(turns)));
    }
    const Watched seen = watched(channels, Hertz{997.0});
    EXPECT_THAT(seen.events, testing::IsEmpty());
    const ChannelFigures& figures = seen.summary.channels[0];
    EXPECT_NEAR(20.0 * std::log10(figures.last / figures.first), -1.0 + 1.0 / 60.0, 0.02);
    EXPECT_NEAR(figures.frequency, 997.2 + 997.0 * 1e-6, 1e-4);
}

TEST(Watch, StepOfOneChannelIsTheUnitOrItsLead) {
    for (const double change : {-0.3, 0.3, -1.0, -6.0}) {
        SCOPED_TRACE(std::to_string(change) + " dB");
        Channels channels = stereo(12.0);
        scale(channels[1], 5.0, 7.5, decibels(change));
        const WatchEvent event = only(watched(channels));
        EXPECT_EQ(event.kind, Kind::level);
        EXPECT_EQ(event.channel, 2);
        EXPECT_EQ(event.blame, Blame::unit_or_lead);
        EXPECT_TRUE(event.timeline_intact);
        // Half a period: near a zero of the tone its level cannot be told.
        EXPECT_NEAR(event.start.in<Seconds>(), 5.0, 0.0005);
        EXPECT_NEAR(event.duration.in<Seconds>(), 2.5, 0.001);
        EXPECT_NEAR(event.size, change, 0.01);
    }
}

TEST(Watch, StepOfBothChannelsIsTheUnitOrTheMainsAndLastsToTheEnd) {
    Channels channels = stereo(12.0);
    scale(channels[0], 5.0, 12.0, decibels(-0.5));
    scale(channels[1], 5.0, 12.0, decibels(-0.5));
    const WatchEvent event = only(watched(channels));
    EXPECT_EQ(event.kind, Kind::level);
    EXPECT_EQ(event.channel, 0);
    EXPECT_EQ(event.blame, Blame::unit_or_mains);
    EXPECT_NEAR(event.duration.in<Seconds>(), 7.0, 0.001);
}

TEST(Watch, StepOfAFifthOfADecibelIsNoEvent) {
    Channels channels = stereo(12.0);
    scale(channels[1], 5.0, 7.5, decibels(-0.2));
    EXPECT_THAT(watched(channels).events, testing::IsEmpty());
}

TEST(Watch, DropoutOfFiveMillisecondsIsSeenWhereverItBegins) {
    for (const double hertz : {210.0, 440.0, 997.0, 6007.0}) {
        for (int step = 0; step < 7; ++step) {
            const double start = 2.0 + 0.0007 * step;
            SCOPED_TRACE(std::to_string(hertz) + " Hz at " + std::to_string(start));
            Channels channels = stereo(3.0, hertz);
            scale(channels[0], start, start + 0.005, 0.0);
            const WatchEvent event = only(watched(channels));
            EXPECT_EQ(event.kind, Kind::dropout);
            EXPECT_EQ(event.channel, 1);
            EXPECT_NEAR(event.start.in<Seconds>(), start, 0.0005);
            EXPECT_NEAR(event.duration.in<Seconds>(), 0.005, 0.0008);
        }
    }
}

TEST(Watch, DropoutInsideALowerLevelEndsAtTheLowerLevel) {
    Channels channels = stereo(12.0);
    scale(channels[0], 3.0, 9.0, decibels(-2.0));
    scale(channels[0], 5.0, 6.0, 0.0);
    const Watched seen = watched(channels);
    ASSERT_THAT(seen.events, testing::SizeIs(2));
    EXPECT_EQ(seen.events[0].kind, Kind::level);
    EXPECT_NEAR(seen.events[0].size, -2.0, 0.01);
    EXPECT_NEAR(seen.events[0].duration.in<Seconds>(), 6.0, 0.001);
    EXPECT_EQ(seen.events[1].kind, Kind::dropout);
    EXPECT_NEAR(seen.events[1].duration.in<Seconds>(), 1.0, 0.001);
}

TEST(Watch, SamplesThatAreMissingAreCountedAndAreTheRig) {
    // 997 Hz has 48.14 samples a period: the count is known beyond one.
    for (const std::size_t missing : {1U, 7U, 48U, 137U, 480U}) {
        SCOPED_TRACE(std::to_string(missing) + " samples");
        Channels channels = stereo(8.0);
        cut(channels, 240000, missing);
        const WatchEvent event = only(watched(channels));
        EXPECT_EQ(event.kind, Kind::gap);
        EXPECT_EQ(event.channel, 0);
        EXPECT_EQ(event.size, static_cast<double>(missing));
        EXPECT_EQ(event.blame, Blame::rig);
        EXPECT_FALSE(event.timeline_intact);
        EXPECT_NEAR(event.start.in<Seconds>(), 5.0, 0.0005);
    }
}

TEST(Watch, SamplesThatStandTwiceAreCountedAndAreTheRig) {
    for (const std::size_t again : {1U, 64U, 512U, 1024U, 4096U}) {
        SCOPED_TRACE(std::to_string(again) + " samples");
        Channels channels = stereo(8.0);
        play_again(channels, 240000, again);
        const WatchEvent event = only(watched(channels));
        EXPECT_EQ(event.kind, Kind::repeat);
        EXPECT_EQ(event.channel, 0);
        EXPECT_EQ(event.size, static_cast<double>(again));
        EXPECT_EQ(event.blame, Blame::rig);
        EXPECT_FALSE(event.timeline_intact);
        EXPECT_NEAR(event.start.in<Seconds>(), 5.0, 0.0005);
    }
}

TEST(Watch, ConverterThatClipsIsTheRig) {
    Channels channels = stereo(8.0);
    for (std::size_t n = 240000; n < 244800; ++n) {
        channels[0][n] = std::clamp(2.02 * channels[0][n], -1.0, 1.0);
    }
    const Watched seen = watched(channels);
    const auto clipping = std::find_if(seen.events.begin(), seen.events.end(),
                                       [](const auto& e) { return e.kind == Kind::clipping; });
    ASSERT_NE(clipping, seen.events.end());
    EXPECT_EQ(clipping->channel, 1);
    EXPECT_EQ(clipping->blame, Blame::rig);
    EXPECT_NEAR(clipping->start.in<Seconds>(), 5.0, 0.001);
    EXPECT_NEAR(clipping->duration.in<Seconds>(), 0.1, 0.002);
    const auto count = std::count_if(channels[0].begin(), channels[0].end(),
                                     [](double x) { return std::abs(x) >= 1.0; });
    EXPECT_NEAR(clipping->size, static_cast<double>(count), 2.0);
    // The level rose by 6 dB as well; what the ends add to harmonics and noise is not told apart.
    EXPECT_THAT(seen.events, testing::SizeIs(2));
}

TEST(Watch, OffsetHumNoiseAndDistortionAreToldApart) {
    const auto with = [](auto&& change) {
        Channels channels = stereo(12.0);
        for (std::size_t n = 240000; n < 336000; ++n) {
            change(channels[0][n], static_cast<double>(n) / rate);
        }
        return only(watched(channels));
    };
    std::mt19937_64 engine{11};
    std::normal_distribution<double> normal{0.0, 2e-3};

    const WatchEvent offset = with([](double& x, double) { x -= 0.01; });
    EXPECT_EQ(offset.kind, Kind::offset);
    EXPECT_NEAR(offset.size, -0.01, 1e-4);

    const WatchEvent hum =
        with([](double& x, double t) { x += 3e-3 * std::cos(two_pi * 100.02 * t); });
    EXPECT_EQ(hum.kind, Kind::hum);
    // It beats with the hum that was there: between the sum and the difference of the two.
    EXPECT_NEAR(hum.size, 3e-3 / std::numbers::sqrt2, 6e-4);

    const WatchEvent noise = with([&](double& x, double) { x += normal(engine); });
    EXPECT_EQ(noise.kind, Kind::noise);
    EXPECT_NEAR(noise.size, 2e-3, 5e-5);

    const WatchEvent distortion =
        with([](double& x, double t) { x += 5e-4 * std::cos(two_pi * 3.0 * 997.0 * t); });
    EXPECT_EQ(distortion.kind, Kind::distortion);
    EXPECT_NEAR(distortion.size, 1e-3, 2e-5);

    for (const WatchEvent& event : {offset, hum, noise, distortion}) {
        SCOPED_TRACE(name(event.kind));
        EXPECT_EQ(event.channel, 1);
        EXPECT_EQ(event.blame, Blame::unit_or_lead);
        EXPECT_TRUE(event.timeline_intact);
        // Read in windows of 0.1 s, the edges within them told by their share.
        EXPECT_NEAR(event.start.in<Seconds>(), 5.0, 0.05);
        EXPECT_NEAR(event.duration.in<Seconds>(), 2.0, 0.1);
    }
}

TEST(Watch, WhatComesBeforeTheToneAndAfterItIsNoEvent) {
    Channels channels = stereo(5.0);
    for (auto& channel : channels) {
        const std::vector<double> quiet = Synthesis{rate, 1.3}.noise(1e-5, 5).volts();
        channel.insert(channel.begin(), quiet.begin(), quiet.end());
        channel.insert(channel.end(), quiet.begin(), quiet.end());
    }
    const Watched seen = watched(channels);
    EXPECT_THAT(seen.events, testing::IsEmpty());
    ASSERT_THAT(seen.summary.unwatched, testing::SizeIs(2));
    EXPECT_EQ(seen.summary.unwatched[0].why, UnwatchedPart::Why::silent);
    // The tone is looked for in steps of half a second.
    EXPECT_NEAR(seen.summary.unwatched[0].duration.in<Seconds>(), 1.3, 0.5);
    EXPECT_NEAR(seen.summary.unwatched[1].start.in<Seconds>(), 6.3, 0.001);
}

TEST(Watch, SilenceHasNoSignal) {
    const Watched seen = watched({Synthesis{rate, 3.0}.noise(1e-5, 3).volts()}, Hertz{997.0});
    EXPECT_FALSE(seen.summary.signal_found);
    ASSERT_THAT(seen.summary.unwatched, testing::SizeIs(1));
    EXPECT_NEAR(seen.summary.unwatched[0].duration.in<Seconds>(), 3.0, 1e-9);
}

TEST(Watch, FiguresAreThoseOfTheTone) {
    const Watched seen = watched(stereo(20.0));
    const ChannelFigures& left = seen.summary.channels[0];
    EXPECT_NEAR(left.amplitude, 0.5, 1e-6);
    EXPECT_NEAR(left.frequency, 997.0, 1e-5);
    EXPECT_NEAR(left.distortion, 1e-4, 2e-6);
    EXPECT_NEAR(left.residual, std::pow(10.0, -90.0 / 20.0) / std::numbers::sqrt2, 1e-6);
    EXPECT_NEAR(left.hum, 0.5 * std::hypot(1e-3, 3e-4) / std::numbers::sqrt2, 4e-6);
}

TEST(Watch, SameEventsWhateverTheBlocks) {
    Channels channels = stereo(8.0);
    scale(channels[1], 3.0, 3.1, decibels(-3.0));
    cut(channels, 240000, 137);
    const Watched whole = watched(channels, std::nullopt, channels[0].size());
    ASSERT_THAT(whole.events, testing::SizeIs(2));
    for (const std::size_t block : {97U, 1024U, 65536U}) {
        const Watched seen = watched(channels, std::nullopt, block);
        ASSERT_EQ(seen.events.size(), whole.events.size());
        for (std::size_t i = 0; i < whole.events.size(); ++i) {
            EXPECT_EQ(seen.events[i].start, whole.events[i].start);
            EXPECT_EQ(seen.events[i].size, whole.events[i].size);
        }
    }
}

TEST(Watch, RatesFromFortyFourToThreeHundredAndEightyFourKilohertz) {
    for (const double at_rate : {44100.0, 96000.0, 192000.0, 384000.0}) {
        SCOPED_TRACE(std::to_string(at_rate) + " Hz");
        Channels channels{tone(4.0, 997.0, 0.5, 1, at_rate), tone(4.0, 997.0, 0.4, 2, at_rate)};
        cut(channels, static_cast<std::size_t>(2.0 * at_rate), 33);
        const WatchEvent event = only(watched(channels, std::nullopt, 5000, at_rate));
        EXPECT_EQ(event.kind, Kind::gap);
        EXPECT_EQ(event.size, 33.0);
    }
}

TEST(Watch, SamplesThatAreNoNumbersAreToldAndTheRestIsWatched) {
    Channels channels = stereo(4.0);
    channels[0][100000] = std::numeric_limits<double>::quiet_NaN();
    channels[1][100001] = std::numeric_limits<double>::infinity();
    const Watched seen = watched(channels);
    EXPECT_EQ(seen.summary.not_finite, 2);
    EXPECT_NEAR(seen.summary.first_not_finite.in<Seconds>(), 100000.0 / rate, 0.003);
    EXPECT_NEAR(seen.summary.channels[0].amplitude, 0.5, 1e-5);
}

}  // namespace
}  // namespace test
}  // namespace afterload::analysis
