// Hum under noise and music: what two notes make on a mains line is over with their chord.
#include "analysis/soak/slow_watch.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace afterload::analysis {
namespace {

using testing::IsEmpty;
using testing::SizeIs;

constexpr double rate = 375.0;
constexpr double window_s = static_cast<double>(SlowBand::window) / rate;
constexpr double own_hum = 2e-4;  // V rms

/// A band of a healthy unit, learnt in silence.
SlowBand quiet_band() {
    std::vector<double> y;
    for (int n = 0; n < 2000; ++n) {
        y.push_back(own_hum * std::numbers::sqrt2 *
                    std::sin(2.0 * std::numbers::pi * 50.0 * n / rate));
    }
    SlowBand band{rate, 50.0};
    band.learn({}, y);
    return band;
}

/// One channel's watch, window by window.
class Watched {
public:
    void hum(double volts, int windows, double level) {
        SlowBand::Reading reading;
        reading.hum = volts;
        for (int n = 0; n < windows; ++n) {
            now_s += window_s / 4.0;
            watch_.add(band_, reading, level, now_s, window_s, true, book_);
            book_.pass(now_s);
        }
    }
    [[nodiscard]] std::vector<SoakEvent> events() { return book_.take(); }

    double now_s = 100.0;

private:
    SlowBand band_ = quiet_band();
    SlowWatch watch_{1, 0.02};
    EventBook book_{100};
};

constexpr double music = 5.0;  // V rms
constexpr double small = 1e-3;

TEST(SlowWatch, TakesASmallHumThatIsOverWithItsChordForWhatTheNotesMade) {
    Watched channel;
    for (int chord = 0; chord < 20; ++chord) {
        channel.hum(small, 30, music);    // 0.8 s
        channel.hum(own_hum, 30, music);  // of other notes
    }
    EXPECT_THAT(channel.events(), IsEmpty());
}

TEST(SlowWatch, TellsASmallHumThatLastsLongerThanAChordFromItsBeginning) {
    Watched channel;
    channel.hum(own_hum, 10, music);
    const double begins_s = channel.now_s;
    channel.hum(small, 120, music);  // 3.2 s
    const auto events = channel.events();
    ASSERT_THAT(events, SizeIs(1));
    EXPECT_EQ(events.front().seen.kind, WatchEvent::Kind::hum);
    EXPECT_NEAR(events.front().seen.start.in<Seconds>(), begins_s, window_s);
}

TEST(SlowWatch, TellsAtOnceAHumThatNoNotesCanMake) {
    Watched channel;
    channel.hum(0.1, 2, music);
    EXPECT_THAT(channel.events(), SizeIs(1));
}

TEST(SlowWatch, TellsASmallHumAtOnceInSilence) {
    Watched channel;
    channel.hum(small, 2, 0.0);
    EXPECT_THAT(channel.events(), SizeIs(1));
}

TEST(SlowWatch, TellsOneHumUnderMusicOnceThoughItComesAndGoesWithTheNotes) {
    Watched channel;
    for (int chord = 0; chord < 40; ++chord) {
        channel.hum(small, 20, music);
        channel.hum(0.3 * small, 5, music);
    }
    EXPECT_THAT(channel.events(), SizeIs(1));
}

}  // namespace
}  // namespace afterload::analysis
