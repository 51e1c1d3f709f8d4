// What a sound card plays: the stimulus as mathematics has it, but for the fades of a change.
#include "instruments/card/played_signal.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace afterload::instruments {
namespace {

using namespace afterload::literals;

const SampleRate rate{48000.0};

std::vector<double> left(const PlayedSignal& signal, std::int64_t first, std::size_t frames) {
    std::vector<double> out(frames);
    std::vector<double> right(frames);
    signal.fill(Frames{first}, out, right);
    return out;
}

TEST(PlayedSignal, IsTheStimulusOnceTheFadeIsOver) {
    PlayedSignal signal{rate};
    const Stimulus wanted = tone(997_Hz, VoltsRms{1.0}, true, false);
    signal.change(wanted, Frames{1000});
    std::vector<double> expected(500, 0.0);
    add_samples(wanted, 0, rate, 0.0, signal.fade(), expected);
    EXPECT_EQ(left(signal, 1000 + signal.fade().count(), 500), expected);
    EXPECT_EQ(left(signal, 500, 500), std::vector<double>(500, 0.0));
}

TEST(PlayedSignal, DoesNotDependOnHowItIsCut) {
    PlayedSignal signal{rate};
    signal.change(tone(997_Hz, VoltsRms{1.0}, true, true), Frames{0});
    signal.change(tone(6_kHz, VoltsRms{0.3}, true, true), Frames{700});
    const std::vector<double> whole = left(signal, 600, 600);
    std::vector<double> pieces = left(signal, 600, 217);
    const std::vector<double> rest = left(signal, 817, 383);
    pieces.insert(pieces.end(), rest.begin(), rest.end());
    EXPECT_EQ(pieces, whole);
}

// A sine of 1 V at 997 Hz moves by at most 2π·997/48000 V a sample; a click would move further.
TEST(PlayedSignal, DoesNotClickAtAChange) {
    PlayedSignal signal{rate};
    signal.change(tone(997_Hz, rms_of_sine(VoltsPeak{1.0}), true, true), Frames{0});
    signal.change(silence(), Frames{1010});
    const std::vector<double> out = left(signal, 700, 1000);
    double largest = 0.0;
    for (std::size_t n = 1; n < out.size(); ++n) {
        largest = std::max(largest, std::abs(out[n] - out[n - 1]));
    }
    EXPECT_LT(largest, 2.0 * 3.1416 * 997.0 / 48000.0 + 0.02);
    EXPECT_EQ(out.back(), 0.0);
}

// Twice the level of the same sine: no other phase, and from one to the other without a click.
TEST(PlayedSignal, GoesOnWhereOnlyTheLevelIsAnother) {
    PlayedSignal signal{rate};
    const Stimulus quiet = tone(997_Hz, VoltsRms{0.5}, true, false);
    signal.change(quiet, Frames{1000});
    signal.change(tone(997_Hz, VoltsRms{1.0}, true, false), Frames{5000});
    std::vector<double> expected(500, 0.0);
    add_samples(quiet, 0, rate, 0.0, Frames{5000 - 1000 + signal.fade().count()}, expected);
    const std::vector<double> out = left(signal, 5000 + signal.fade().count(), 500);
    for (std::size_t n = 0; n < out.size(); ++n) {
        EXPECT_NEAR(out[n], 2.0 * expected[n], 1e-12);
    }
    const std::vector<double> before = left(signal, 4500, 500);
    std::vector<double> as_before(500, 0.0);
    add_samples(quiet, 0, rate, 0.0, Frames{3500}, as_before);
    EXPECT_EQ(before, as_before);
}

TEST(PlayedSignal, LeavesASweepAsItIsFromItsFirstSample) {
    Stimulus wanted;
    Sweep sweep;
    sweep.low = 100_Hz;
    sweep.high = 10_kHz;
    sweep.growth = Seconds{0.02};
    sweep.amplitude = VoltsPeak{0.5};
    sweep.fade_in = Seconds{0.001};
    sweep.fade_out = Seconds{0.001};
    wanted.sweeps[0] = {sweep};
    PlayedSignal signal{rate};
    signal.change(wanted, Frames{100});
    std::vector<double> expected(3000, 0.0);
    add_samples(wanted, 0, rate, 0.0, Frames{0}, expected);
    EXPECT_EQ(left(signal, 100, 3000), expected);
}

}  // namespace
}  // namespace afterload::instruments
