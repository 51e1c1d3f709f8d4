// A stimulus is mathematics; its samples must be those of the mathematics hours later, too.
#include "analysis/stimulus.hpp"

#include "analysis/same_sound.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <memory>
#include <numbers>
#include <random>
#include <utility>
#include <vector>

namespace afterload {
namespace {

using namespace afterload::literals;

// cos(2π·f·n/(rate·(1 + ppm/10⁶)) + phase) with whole cycles taken off exactly: f, rate and n are
// whole numbers here, so the phase is a remainder of whole numbers. Valid for whole `ppm` as well.
double exact(std::int64_t frequency, std::int64_t rate, std::int64_t ppm, std::int64_t frame,
             double phase) {
    __extension__ using Wide = __int128;
    const Wide cycle = Wide{rate} * (1000000 + ppm);
    const auto rest = static_cast<double>((Wide{frequency} * 1000000 * frame) % cycle);
    return std::cos(2.0 * std::numbers::pi * (rest / static_cast<double>(cycle)) + phase);
}

TEST(Stimulus, SilenceIsSilent) {
    EXPECT_TRUE(silence().silent());
    EXPECT_FALSE(tone(1_kHz, 1_Vrms, true, false).silent());
}

TEST(Stimulus, AToneStartsAtZeroAndRises) {
    const Stimulus stimulus = tone(997_Hz, 1_Vrms, false, true);
    EXPECT_TRUE(stimulus.channels[0].empty());
    std::vector<double> samples(48, 0.0);
    add_samples(stimulus.channels[1], SampleRate{48000.0}, 0.0, Frames{0}, samples);
    EXPECT_NEAR(samples[0], 0.0, 1e-15);
    for (std::size_t n = 0; n < samples.size(); ++n) {
        const double t = static_cast<double>(n) / 48000.0;
        EXPECT_NEAR(samples[n], std::sqrt(2.0) * std::sin(2.0 * std::numbers::pi * 997.0 * t),
                    1e-14);
    }
}

TEST(Stimulus, PhaseIsExactAfterFourHoursAt192Kilohertz) {
    // The check knows the phase from whole numbers: nothing is rounded before the cosine.
    const std::int64_t first = std::int64_t{4} * 3600 * 192000;
    const Partial partial{Hertz{6007.0}, VoltsPeak{1.0}, Radians{0.3}};
    std::vector<double> samples(1000, 0.0);
    add_samples({&partial, 1}, SampleRate{192000.0}, 0.0, Frames{first}, samples);
    for (std::size_t n = 0; n < samples.size(); ++n) {
        const auto frame = first + static_cast<std::int64_t>(n);
        ASSERT_NEAR(samples[n], exact(6007, 192000, 0, frame, 0.3), 1e-13) << n;
    }
}

TEST(Stimulus, AFastClockSeesALowerTone) {
    // 50 ppm of 10 000 s are half a second of the stimulus; 1e-16 of a clock over 10⁷ cycles is
    // 1e-8.
    const std::int64_t first = std::int64_t{10000} * 48000;
    const Partial partial{Hertz{997.0}, VoltsPeak{1.0}, Radians{0.0}};
    std::vector<double> samples(200, 0.0);
    add_samples({&partial, 1}, SampleRate{48000.0}, 50.0, Frames{first}, samples);
    for (std::size_t n = 0; n < samples.size(); ++n) {
        const auto frame = first + static_cast<std::int64_t>(n);
        ASSERT_NEAR(samples[n], exact(997, 48000, 50, frame, 0.0), 1e-8) << n;
    }
}

TEST(Stimulus, SamplesDoNotDependOnHowARecordIsCut) {
    const std::vector<Partial> partials{{Hertz{19.7}, VoltsPeak{1.0}, Radians{0.1}},
                                        {Hertz{19997.0}, VoltsPeak{0.3}, Radians{2.0}}};
    const SampleRate rate{96000.0};
    std::vector<double> whole(5000, 0.0);
    add_samples(partials, rate, 12.0, Frames{777}, whole);

    std::mt19937 draw{7};
    std::vector<double> pieces(whole.size(), 0.0);
    std::size_t at = 0;
    while (at < pieces.size()) {
        const std::size_t length = std::min<std::size_t>(1 + draw() % 300, pieces.size() - at);
        add_samples(partials, rate, 12.0, Frames{777 + static_cast<std::int64_t>(at)},
                    std::span{pieces}.subspan(at, length));
        at += length;
    }
    EXPECT_EQ(whole, pieces);
}

TEST(Stimulus, AddingLeavesWhatIsThere) {
    const Partial partial{1_kHz, VoltsPeak{0.5}, Radians{0.0}};
    std::vector<double> samples(10, 2.0);
    add_samples({&partial, 1}, SampleRate{48000.0}, 0.0, Frames{0}, samples);
    EXPECT_DOUBLE_EQ(samples[0], 2.5);
    add_samples(std::span<const Partial>{}, SampleRate{48000.0}, 0.0, Frames{0}, samples);
    EXPECT_DOUBLE_EQ(samples[0], 2.5);
}

TEST(Stimulus, TimeBeforeTheStartContinuesBackwards) {
    const Partial partial{1_kHz, VoltsPeak{1.0}, Radians{0.0}};
    std::vector<double> samples(100, 0.0);
    add_samples({&partial, 1}, SampleRate{48000.0}, 0.0, Frames{-50}, samples);
    for (int n = 0; n < 50; ++n) {  // a cosine is even
        EXPECT_NEAR(samples[static_cast<std::size_t>(50 - n)],
                    samples[static_cast<std::size_t>(50 + n)], 1e-13);
    }
}

TEST(Stimulus, NothingAboveTheRoundingStandsBesideATone) {
    // Rotation must not leave lines of its own: what is left after the mathematics is rounding
    // noise.
    const Partial partial{Hertz{997.0}, VoltsPeak{1.0}, Radians{0.0}};
    std::vector<double> samples(48000, 0.0);
    add_samples({&partial, 1}, SampleRate{48000.0}, 0.0, Frames{0}, samples);
    double square = 0.0;
    for (std::size_t n = 0; n < samples.size(); ++n) {
        const double error = samples[n] - exact(997, 48000, 0, static_cast<std::int64_t>(n), 0.0);
        square += error * error;
    }
    EXPECT_LT(std::sqrt(square / 48000.0), 1e-14);  // -280 dB
}

Stimulus one_of_each() {
    Stimulus stimulus;
    stimulus.channels[0] = {{Hertz{211.0}, VoltsPeak{0.1}, Radians{0.4}}};
    stimulus.bursts[0] = {{{Hertz{997.0}, VoltsPeak{0.5}, Radians{0.2}},
                           Seconds{0.01},
                           Seconds{0.05},
                           Seconds{0.02}}};
    stimulus.sweeps[0] = {{Hertz{50.0}, Hertz{5000.0}, Seconds{0.02}, VoltsPeak{0.25},
                           Seconds{0.02}, Seconds{0.01}, Seconds{0.002}}};
    return stimulus;
}

TEST(Stimulus, ABurstIsItsPartialUnderARaisedCosine) {
    const Stimulus stimulus = one_of_each();
    std::vector<double> samples(4800, 0.0);
    add_samples(stimulus.bursts[0], SampleRate{48000.0}, 0.0, Frames{0}, samples);
    for (std::size_t n = 0; n < samples.size(); ++n) {
        const double t = static_cast<double>(n) / 48000.0 - 0.01;
        double envelope = 0.0;
        if (t >= 0.0 && t < 0.05) {
            const double edge = std::min({t, 0.05 - t, 0.02});
            envelope = 0.5 - 0.5 * std::cos(std::numbers::pi * edge / 0.02);
        }
        const double angle = 2.0 * std::numbers::pi * 997.0 * (t + 0.01) + 0.2;
        ASSERT_NEAR(samples[n], 0.5 * envelope * std::cos(angle), 1e-13) << n;
    }
}

TEST(Stimulus, ASweepIsTheFormulaOfNovakUnderItsFades) {
    // x(t) = sin(2π f1 L e^{t/L}), Novak, Lotton, Simon, JAES 63(10), 2015; in long double here.
    const Stimulus stimulus = one_of_each();
    const Sweep& sweep = stimulus.sweeps[0].front();
    EXPECT_NEAR(sweep.length().in<Seconds>(), 0.02 * std::log(100.0), 1e-15);
    std::vector<double> samples(9600, 0.0);
    add_samples(stimulus.sweeps[0], SampleRate{48000.0}, 100.0, Frames{0}, samples);
    for (std::size_t n = 0; n < samples.size(); ++n) {
        const long double t = static_cast<long double>(n) / 48004.8L - 0.02L;
        const long double left = 0.02L * std::log(100.0L) - t;
        double expected = 0.0;
        if (t >= 0.0L && left > 0.0L) {
            const long double turns = 50.0L * 0.02L * std::exp(t / 0.02L);
            const auto fade = [](long double time, long double length) {
                return time >= length ? 1.0L
                                      : 0.5L - 0.5L * std::cos(std::numbers::pi_v<long double> *
                                                               time / length);
            };
            expected = static_cast<double>(
                0.25L * fade(t, 0.01L) * fade(left, 0.002L) *
                std::sin(2.0L * std::numbers::pi_v<long double> * (turns - std::floor(turns))));
        }
        ASSERT_NEAR(samples[n], expected, 1e-12) << n;
    }
}

TEST(Stimulus, BurstsAndSweepsDoNotDependOnHowARecordIsCut) {
    const Stimulus stimulus = one_of_each();
    const SampleRate rate{96000.0};
    std::vector<double> whole(12000, 0.0);
    add_samples(stimulus, 0, rate, -37.0, Frames{-500}, whole);
    std::mt19937 draw{8};
    std::vector<double> pieces(whole.size(), 0.0);
    std::size_t at = 0;
    while (at < pieces.size()) {
        const std::size_t length = std::min<std::size_t>(1 + draw() % 300, pieces.size() - at);
        add_samples(stimulus, 0, rate, -37.0, Frames{static_cast<std::int64_t>(at) - 500},
                    std::span{pieces}.subspan(at, length));
        at += length;
    }
    EXPECT_EQ(whole, pieces);
}

TEST(Stimulus, EndsWithItsLastSoundAndNeverWhileATonePlays) {
    Stimulus stimulus = one_of_each();
    EXPECT_FALSE(stimulus.ends().has_value());
    stimulus.channels[0].clear();
    EXPECT_FALSE(stimulus.silent());
    EXPECT_NEAR(stimulus.ends()->in<Seconds>(), 0.02 + 0.02 * std::log(100.0), 1e-12);
    EXPECT_EQ(silence().ends(), Seconds{0.0});
}

TEST(Stimulus, ItsLargestPeakCountsWhatSoundsTogether) {
    Stimulus stimulus = one_of_each();
    // The sweep begins within the burst, over the tone.
    EXPECT_DOUBLE_EQ(largest_peak(stimulus, 0).in<VoltsPeak>(), 0.1 + 0.5 + 0.25);
    EXPECT_EQ(largest_peak(stimulus, 1), VoltsPeak{0.0});
    stimulus.sweeps[0].front().start = Seconds{0.07};  // after the burst
    EXPECT_DOUBLE_EQ(largest_peak(stimulus, 0).in<VoltsPeak>(), 0.1 + 0.5);
}

Loop loop_of(std::vector<double> samples, double volts) {
    Loop loop;
    loop.rate = SampleRate{48000.0};
    const auto shared = std::make_shared<const std::vector<double>>(std::move(samples));
    loop.samples = {shared, shared};
    loop.amplitude = {VoltsPeak{volts}, VoltsPeak{0.0}};
    return loop;
}

TEST(Stimulus, ALoopIsItsSamplesOverAndOver) {
    Stimulus stimulus;
    stimulus.loop = loop_of({0.5, -1.0, 0.25}, 2.0);
    std::vector<double> out(7, 0.0);
    add_samples(stimulus, 0, SampleRate{48000.0}, 0.0, Frames{0}, out);
    EXPECT_EQ(out, (std::vector<double>{1.0, -2.0, 0.5, 1.0, -2.0, 0.5, 1.0}));
    EXPECT_FALSE(stimulus.silent());
    EXPECT_FALSE(stimulus.ends().has_value());
    EXPECT_EQ(largest_peak(stimulus, 0), VoltsPeak{2.0});
    std::vector<double> right(3, 0.0);
    add_samples(stimulus, 1, SampleRate{48000.0}, 0.0, Frames{0}, right);
    EXPECT_EQ(right, (std::vector<double>{0.0, 0.0, 0.0}));
}

TEST(Stimulus, SoundsTheSameAtAnotherLevelAndAtNoOtherFrequencyPhaseOrSamples) {
    const Stimulus sine = tone(Hertz{997.0}, VoltsRms{1.0}, true, false);
    EXPECT_TRUE(same_sound(sine, tone(Hertz{997.0}, VoltsRms{0.1}, true, false)));
    EXPECT_FALSE(same_sound(sine, tone(Hertz{998.0}, VoltsRms{1.0}, true, false)));
    EXPECT_FALSE(same_sound(sine, tone(Hertz{997.0}, VoltsRms{1.0}, true, true)));
    Stimulus turned = sine;
    turned.channels[0].front().phase = Radians{0.0};
    EXPECT_FALSE(same_sound(sine, turned));
    EXPECT_FALSE(same_sound(silence(), silence()));
    EXPECT_FALSE(same_sound(one_of_each(), one_of_each()));  // a burst begins anew

    Stimulus loop;
    loop.loop = loop_of({0.5, -1.0, 0.25}, 2.0);
    Stimulus louder = loop;
    louder.loop->amplitude[0] = VoltsPeak{3.0};
    EXPECT_TRUE(same_sound(loop, louder));
    EXPECT_FALSE(same_sound(loop, sine));
    Stimulus other;
    other.loop = loop_of({0.5, -1.0, 0.25}, 2.0);
    EXPECT_FALSE(same_sound(loop, other)) << "equal samples are not the same ones";
}

// A sine that goes round without a seam, played on a clock that is fast: the same sine at another
// frequency, by its closed form.
TEST(Stimulus, ALoopOnAnotherClockIsTheSameSoundAtItsOwnPace) {
    constexpr std::size_t length = 4800;
    constexpr double cycles = 100.0;  // 1 kHz
    std::vector<double> samples(length);
    for (std::size_t i = 0; i < length; ++i) {
        samples[i] = std::sin(2.0 * std::numbers::pi * cycles * static_cast<double>(i) /
                              static_cast<double>(length));
    }
    Stimulus stimulus;
    stimulus.loop = loop_of(std::move(samples), 1.0);
    std::vector<double> out(2000, 0.0);
    const std::int64_t first = 48000 * 3600LL;
    add_samples(stimulus, 0, SampleRate{48000.0}, 50.0, Frames{first}, out);
    for (std::size_t i = 0; i < out.size(); ++i) {
        const double at =
            static_cast<double>(first + static_cast<std::int64_t>(i)) / (48000.0 * (1.0 + 50e-6));
        const double turns = 1000.0 * at;
        // 80 dB below the sine, and what an hour leaves of a double's digits.
        EXPECT_NEAR(out[i], std::sin(2.0 * std::numbers::pi * (turns - std::floor(turns))), 1e-4);
    }
}

}  // namespace
}  // namespace afterload
