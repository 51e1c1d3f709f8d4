// The sound card through ALSA, on the test card: every frame is numbered, and every fault is at a
// frame that is known beforehand.
#include "instruments/card/sound_card.hpp"

#include "instruments/manual_instruments.hpp"
#include "instruments/steady_clock.hpp"
#include "tests/instruments/finish.hpp"
#include "tests/instruments/test_card.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <mutex>
#include <numbers>
#include <thread>
#include <unistd.h>
#include <vector>

#if defined(__SANITIZE_ADDRESS__)
// Of the sanitizer's own library; g++ ships no header for it.
extern "C" std::size_t __sanitizer_get_current_allocated_bytes();
#endif

namespace afterload::instruments {
namespace {

using namespace afterload::literals;
using probe::finish;
using test::TestCard;
using testing::HasSubstr;

constexpr double rate_hz = 48000.0;

CardSettings settings() {
    CardSettings wanted;
    wanted.pcm.device = "testcard";
    wanted.pcm.rate = SampleRate{rate_hz};
    wanted.pcm.stand_in = true;
    return wanted;
}

void pass(double seconds) {
    std::this_thread::sleep_for(std::chrono::duration<double>{seconds});
}

std::shared_ptr<CardRecording> finished(const std::shared_ptr<CardRecording>& recording) {
    for (int i = 0; i < 1000 && !recording->done.load(); ++i) {
        pass(0.01);
    }
    return recording;
}

/// The number of the frame that the second channel carries, 24 bits of it.
std::int64_t number(std::int32_t sample) {
    return sample & 0xFFFFFF;
}

TEST(CardStream, AccountsForEveryFrame) {
    const TestCard card;
    auto stream = CardStream::open(settings());
    ASSERT_TRUE(stream) << text(stream.error());
    std::mutex mutex;
    std::int64_t next = -1;
    int wrong = 0;
    auto watch = [&](std::int64_t first, const std::vector<std::vector<std::int32_t>>& channels) {
        const std::lock_guard lock{mutex};
        wrong += next >= 0 && first != next ? 1 : 0;
        for (const std::int32_t sample : channels[1]) {
            wrong += number(sample) != (first++ & 0xFFFFFF) ? 1 : 0;
        }
        next = first;
    };
    (*stream)->on_block(watch);
    pass(2.0);
    (*stream)->on_block({});
    EXPECT_EQ(wrong, 0);
    EXPECT_GT(next, 90000);
    EXPECT_EQ((*stream)->count().underruns, 0);
    EXPECT_EQ((*stream)->count().overruns, 0);
}

/// Memory in use, kB. The address sanitizer keeps what is freed for a while: there its own count.
long kilobytes_in_use() {
#if defined(__SANITIZE_ADDRESS__)
    return static_cast<long>(__sanitizer_get_current_allocated_bytes() / 1024);
#else
    std::ifstream file{"/proc/self/statm"};
    long pages = 0;
    file >> pages >> pages;
    return pages * (sysconf(_SC_PAGESIZE) / 1024);
#endif
}

// A minute, or as many seconds as AFTERLOAD_CARD_SECONDS says, as a soak would watch: a tone that
// never ends, every frame seen, losses where they are, in memory that does not grow.
TEST(CardStream, PlaysAndRecordsForAMinuteAndKnowsEveryFrame) {
    // NOLINTNEXTLINE(concurrency-mt-unsafe): before any thread
    const char* const wanted = std::getenv("AFTERLOAD_CARD_SECONDS");
    const double seconds = wanted != nullptr ? std::atof(wanted) : 60.0;
    const TestCard card{"lose 700000 100\nstarve 1100000\nlose 1500000 4800\n"};
    auto stream = CardStream::open(settings());
    ASSERT_TRUE(stream) << text(stream.error());
    std::mutex mutex;
    std::vector<std::int64_t> jumps;
    std::int64_t last = -1;
    std::int64_t seen = 0;
    auto watch = [&](std::int64_t first, const std::vector<std::vector<std::int32_t>>& channels) {
        const std::lock_guard lock{mutex};
        for (const std::int32_t sample : channels[1]) {
            if (last >= 0 && number(sample) != ((last + 1) & 0xFFFFFF)) {
                jumps.push_back(first);
            }
            last = number(sample);
            ++first;
            ++seen;
        }
    };
    (*stream)->on_block(watch);
    (void)(*stream)->play(tone(997_Hz, VoltsRms{0.3}, true, true));
    pass(5.0);
    const long early = kilobytes_in_use();
    pass(seconds - 5.0);
    const long late = kilobytes_in_use();
    (*stream)->on_block({});
    const CardCount count = (*stream)->count();
    EXPECT_FALSE((*stream)->failure());
    EXPECT_NEAR(static_cast<double>(seen), seconds * rate_hz, 0.01 * seconds * rate_hz + 5000.0);
    // A machine with too much to do adds losses of its own, which are known as well.
    EXPECT_GE(count.lost_at.size(), 2U);
    EXPECT_EQ(jumps, count.lost_at);
    EXPECT_GE(count.starved_at.size(), 1U);
    RecordProperty("grown_kB", std::to_string(late - early));
    EXPECT_LT(late - early, 2048);
}

TEST(CardStream, SaysAtWhichFrameTheCardLostSome) {
    const TestCard card{"lose 40000 500\n"};
    auto stream = CardStream::open(settings());
    ASSERT_TRUE(stream) << text(stream.error());
    const auto recording = finished((*stream)->record(0, 48000));
    ASSERT_EQ(recording->faults.size(), 1U);
    EXPECT_EQ(recording->faults[0].kind, CaptureFaultKind::gap);
    const auto at =
        static_cast<std::size_t>(std::lround(recording->faults[0].start.in<Seconds>() * rate_hz));
    // The numbers jump there and nowhere else.
    const auto& numbers = recording->channels[1];
    for (std::size_t n = 1; n < numbers.size(); ++n) {
        const std::int64_t step = number(numbers[n]) - number(numbers[n - 1]);
        if (n == at) {
            EXPECT_GE(step, 501);
        } else {
            ASSERT_EQ(step, 1) << n << " and not " << at;
        }
    }
    EXPECT_EQ((*stream)->count().overruns, 1);
    EXPECT_FALSE((*stream)->failure());
}

TEST(CardStream, SaysThatItWasNotFedInTime) {
    const TestCard card{"starve 40000\n"};
    auto stream = CardStream::open(settings());
    ASSERT_TRUE(stream) << text(stream.error());
    const auto recording = finished((*stream)->record(0, 48000));
    ASSERT_EQ(recording->faults.size(), 1U);
    EXPECT_THAT(recording->faults[0].note, HasSubstr("not fed in time"));
    const double frame =
        static_cast<double>(recording->first) + recording->faults[0].start.in<Seconds>() * rate_hz;
    EXPECT_NEAR(frame, 40000.0, 0.03 * rate_hz);  // seen at the next look, within a few periods
    EXPECT_EQ((*stream)->count().underruns, 1);
}

TEST(CardStream, SaysWithinHalfASecondThatTheCardIsGone) {
    for (const char* fault : {"unplug 48000\n", "stall 48000\n"}) {
        const TestCard card{fault};
        auto stream = CardStream::open(settings());
        ASSERT_TRUE(stream) << text(stream.error());
        const double left = 1.0 - static_cast<double>((*stream)->count().captured) / rate_hz;
        pass(left + 0.5);
        const auto failure = (*stream)->failure();
        ASSERT_TRUE(failure) << fault;
        EXPECT_THAT(text(*failure), HasSubstr("testcard"));
    }
}

TEST(CardStream, ReadsBackWhatItOpened) {
    const TestCard card;
    const auto stream = CardStream::open(settings());
    ASSERT_TRUE(stream) << text(stream.error());
    for (const char* direction : {"plays ", "records "}) {
        EXPECT_THAT((*stream)->format(),
                    HasSubstr(std::string{direction} + "32 bits in S32_LE, 2 channels, 48000 Hz"));
    }
}

TEST(CardStream, IsRefusedARateThatTheCardDoesNotHave) {
    const TestCard card;
    CardSettings wanted = settings();
    wanted.pcm.rate = SampleRate{192000.0};
    const auto stream = CardStream::open(wanted);
    ASSERT_FALSE(stream);
    EXPECT_EQ(stream.error().kind, BenchFailure::Kind::refused);
    EXPECT_THAT(text(stream.error()), HasSubstr("it has rates from 44100 to 96000 Hz"));
}

TEST(CardStream, IsRefusedWhatIsNoCardUnlessTheBenchSaysSo) {
    const TestCard card;
    CardSettings wanted = settings();
    wanted.pcm.stand_in = false;
    const auto stream = CardStream::open(wanted);
    ASSERT_FALSE(stream);
    EXPECT_THAT(text(stream.error()), HasSubstr("stand_in: true"));
    wanted.pcm.device = "no_such_card";
    const auto none = CardStream::open(wanted);
    ASSERT_FALSE(none);
    EXPECT_EQ(none.error().kind, BenchFailure::Kind::lost);
}

/// Source and capture on the test card; full scale 1 V peak out, 10 V peak in.
struct Loop {
    explicit Loop(const std::string& faults = "") : wires{faults} {
        auto opened = CardStream::open(settings());
        EXPECT_TRUE(opened) << text(opened.error());
        card.name = "test card";
        card.full_scale = VoltsPeak{1.0};
        card.stand_in = true;
        card.stream = *std::move(opened);
    }
    TestCard wires;
    SteadyClock clock;
    SoundCard card;
    HandRanges ranges{{"only"}, [](const std::string&) { return false; }};
    CardSource source{card, clock};
    CardCapture capture{card, clock, ranges, [](const std::string&) { return VoltsPeak{10.0}; }};
};

TEST(SoundCard, RecordsAToneAtItsLevelOnceItIsPlayed) {
    Loop loop;
    ASSERT_TRUE(finish(loop.source.play(tone(1_kHz, rms_of_sine(VoltsPeak{0.5}), true, true))));
    pass(0.02);  // the loop's own delay, of which the card says nothing
    const auto captured = finish(loop.capture.record(Seconds{0.5}));
    ASSERT_TRUE(captured) << text(captured.error());
    EXPECT_TRUE(captured->reported.empty());
    const Waveform wave = calibrated(captured->record, 0);
    ASSERT_EQ(wave.volts.size(), 24000U);
    // Whole periods: the mean square is half the square of the peak, 5 V.
    double squares = 0.0;
    for (const double volts : wave.volts) {
        squares += volts * volts;
    }
    EXPECT_NEAR(squares / 24000.0, 12.5, 1e-5);
}

TEST(SoundCard, RecordsTheWholeOfASweep) {
    Loop loop;
    Sweep sweep;
    sweep.low = 100_Hz;
    sweep.high = 10_kHz;
    sweep.growth = Seconds{0.1};
    sweep.amplitude = VoltsPeak{0.5};
    sweep.start = Seconds{0.05};
    sweep.fade_in = Seconds{0.01};
    sweep.fade_out = Seconds{0.001};
    Stimulus stimulus;
    stimulus.sweeps[0] = {sweep};
    const Seconds whole = sweep.start + sweep.length() + Seconds{0.05};
    ASSERT_TRUE(finish(loop.source.play(stimulus)));
    const auto captured = finish(loop.capture.record(whole));
    ASSERT_TRUE(captured) << text(captured.error());
    std::vector<double> played(static_cast<std::size_t>(whole.in<Seconds>() * rate_hz), 0.0);
    add_samples(stimulus, 0, SampleRate{rate_hz}, 0.0, Frames{0}, played);
    const Waveform wave = calibrated(captured->record, 0);
    ASSERT_GT(wave.volts.size(), played.size());
    // Somewhere in the record stands all of it, ten times as high.
    double best = 1e9;
    for (std::size_t at = 0; at + played.size() <= wave.volts.size(); ++at) {
        double worst = 0.0;
        for (std::size_t n = 0; n < played.size() && worst < best; ++n) {
            worst = std::max(worst, std::abs(wave.volts[at + n] - 10.0 * played[n]));
        }
        best = std::min(best, worst);
    }
    EXPECT_LT(best, 1e-4);
}

TEST(SoundCard, IsSilentOnceItIsMuted) {
    Loop loop;
    ASSERT_TRUE(finish(loop.source.play(tone(1_kHz, rms_of_sine(VoltsPeak{0.5}), true, true))));
    ASSERT_TRUE(finish(loop.source.mute()));
    pass(0.02);
    const auto captured = finish(loop.capture.record(Seconds{0.1}));
    ASSERT_TRUE(captured);
    for (const std::int32_t sample : captured->record.channels[0]) {
        ASSERT_EQ(sample, 0);
    }
}

TEST(SoundCard, RefusesMoreThanItsFullScale) {
    Loop loop;
    const auto played =
        finish(loop.source.play(tone(1_kHz, rms_of_sine(VoltsPeak{1.1}), true, false)));
    ASSERT_FALSE(played);
    EXPECT_EQ(played.error().kind, BenchFailure::Kind::refused);
}

TEST(SoundCard, ARecordThatTheCardDoesNotFinishIsAFailure) {
    Loop loop{"unplug 60000\n"};
    const auto captured = finish(loop.capture.record(Seconds{3.0}));
    ASSERT_FALSE(captured);
    EXPECT_THAT(text(captured.error()), HasSubstr("asked to record 3 s"));
}

/// A clock for what stands on a card.
struct OpenCard {
    SteadyClock clock;
    SoundCard card;
    HandRanges ranges{{"one"}, [](const std::string&) { return false; }};
    CardCapture capture{card, clock, ranges, [](const std::string&) { return VoltsPeak{1.0}; }};
};

TEST(CardCaptureStream, GivesEveryFrameOnceHoweverLateItIsAsked) {
    const TestCard test_card;
    OpenCard open;
    open.card.name = "card";
    auto stream = CardStream::open(settings());
    ASSERT_TRUE(stream) << text(stream.error());
    open.card.stream = *std::move(stream);
    auto blocks = finish(open.capture.stream());
    ASSERT_TRUE(blocks.has_value());
    CapturedBlock block;
    std::int64_t last = -1;
    int wrong = 0;
    for (int i = 0; i < 30; ++i) {
        ASSERT_TRUE(finish((*blocks)->next(Frames{4800}, block)).has_value());
        for (const std::int32_t sample : block.channels[1]) {
            wrong += last >= 0 && number(sample) != ((last + 1) & 0xFFFFFF) ? 1 : 0;
            last = number(sample);
        }
        if (i == 10) {
            pass(1.0);
        }
    }
    EXPECT_EQ(wrong, 0);
    EXPECT_TRUE(block.reported.empty());
}

TEST(CardCaptureStream, ReportsWhatTheCardLosesAndSaysWhenNobodyTookItsFrames) {
    const TestCard test_card{"lose 60000 100\n"};
    OpenCard open;
    open.card.name = "card";
    auto stream = CardStream::open(settings());
    ASSERT_TRUE(stream) << text(stream.error());
    open.card.stream = *std::move(stream);
    auto blocks = finish(open.capture.stream());
    ASSERT_TRUE(blocks.has_value());
    CapturedBlock block;
    std::size_t reported = 0;
    for (int i = 0; i < 20; ++i) {
        ASSERT_TRUE(finish((*blocks)->next(Frames{4800}, block)).has_value());
        reported += block.reported.size();
    }
    EXPECT_EQ(reported, 1U);
    pass(5.0);
    EXPECT_FALSE(finish((*blocks)->next(Frames{4800}, block)).has_value());
}

}  // namespace
}  // namespace afterload::instruments
