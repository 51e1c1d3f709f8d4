#include "analysis/multitone.hpp"

#include "analysis/multitone_fit.hpp"
#include "analysis/multitone_source.hpp"
#include "analysis/multitone_timeline.hpp"
#include "tests/analysis/multitone_bench.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <set>

namespace afterload::analysis {
namespace {

using test::bench_record;
using test::BenchSignal;
using test::Synthesis;
using test::two_pi;
using test::usual_multitone;
using test::usual_stimulus;
using test::views;
using Complex = std::complex<double>;

std::vector<long> places(const Multitone& multitone, std::size_t channel) {
    std::vector<long> found;
    for (const MultitoneTone& tone : multitone.tones[channel]) {
        const double place = tone.frequency.in<Hertz>() * multitone.period.in<Seconds>();
        EXPECT_NEAR(place, std::round(place), 1e-9);
        found.push_back(std::lround(place));
    }
    return found;
}

// Every sum of two and three tones with every sign, the same tone taken twice or three times as
// well; a + b - b is a itself and is left out. Harmonics to the tenth. Slow and obvious.
std::set<long> products(const std::vector<long>& tones) {
    std::set<long> found;
    for (const long a : tones) {
        for (long k = 2; k <= 10; ++k) {
            found.insert(k * a);
        }
        for (const long b : tones) {
            found.insert(a + b);
            if (a != b) {
                found.insert(std::abs(a - b));
            }
            for (const long c : tones) {
                found.insert(a + b + c);
                if (a != c && b != c) {
                    found.insert(std::abs(a + b - c));
                }
            }
        }
    }
    return found;
}

TEST(Multitone, NoToneStandsOnAProductOfOthersOfEitherChannel) {
    for (const double rate : {48000.0, 96000.0}) {
        MultitoneSettings settings;
        settings.rate = SampleRate{rate};
        const auto multitone = design_multitone(settings);
        ASSERT_TRUE(multitone);
        for (std::size_t from = 0; from < 2; ++from) {
            const std::set<long> reached = products(places(*multitone, from));
            for (std::size_t on = 0; on < 2; ++on) {
                for (const long place : places(*multitone, on)) {
                    EXPECT_FALSE(reached.contains(place)) << place << " of channel " << on;
                }
            }
        }
    }
}

TEST(Multitone, TonesKeepOffTheMainsAndOffEachOther) {
    for (const double mains : {50.0, 60.0}) {
        MultitoneSettings settings;
        settings.rate = SampleRate{48000.0};
        settings.mains = Hertz{mains};
        const auto multitone = design_multitone(settings);
        ASSERT_TRUE(multitone);
        std::set<long> both;
        std::size_t count = 0;
        for (std::size_t c = 0; c < 2; ++c) {
            for (const MultitoneTone& tone : multitone->tones[c]) {
                const double f = tone.frequency.in<Hertz>();
                EXPECT_GE(std::abs(std::remainder(f, mains)), 1.5 / 0.5 - 1e-9) << f;
                EXPECT_GE(f, 10.0);
                EXPECT_LE(f, 21600.0);
            }
            for (const long place : places(*multitone, c)) {
                both.insert(place);
                ++count;
            }
        }
        EXPECT_EQ(both.size(), count);
        long last = -3;
        for (const long place : both) {
            EXPECT_GE(place - last, 3);
            last = place;
        }
    }
}

TEST(Multitone, EachChannelHasAToneNearOneAndTenKilohertz) {
    for (const auto& tones : usual_multitone().tones) {
        for (const double wanted : {1000.0, 10000.0}) {
            EXPECT_TRUE(std::any_of(tones.begin(), tones.end(), [&](const MultitoneTone& tone) {
                return std::abs(tone.frequency.in<Hertz>() / wanted - 1.0) < 0.04;
            })) << wanted;
        }
    }
}

// The crest is stated of the signal between the samples; here it is looked for at 20 times the
// highest tone. Random phases of this many tones give 3.5 to 4 (measured: the best of six 3.8).
TEST(Multitone, CrestFactorIsThatOfTheSignalAndLow) {
    const Multitone& multitone = usual_multitone();
    const Stimulus stimulus = usual_stimulus();
    for (std::size_t c = 0; c < 2; ++c) {
        std::vector<double> period(200000, 0.0);
        add_samples(stimulus.channels[c], SampleRate{400000.0}, 0.0, Frames{0}, period);
        double peak = 0.0;
        double squares = 0.0;
        for (const double x : period) {
            peak = std::max(peak, std::abs(x));
            squares += x * x;
        }
        const double crest = peak / std::sqrt(squares / 200000.0);
        EXPECT_NEAR(peak, 1.0, 0.01);
        EXPECT_NEAR(crest, multitone.crest[c], 0.01 * crest);
        EXPECT_LT(crest, 3.4);
        RecordProperty("crest_" + std::to_string(c), std::to_string(crest));
    }
    const Stimulus by_rms = at_rms(multitone, VoltsRms{0.5}, VoltsRms{0.25});
    double power = 0.0;
    for (const Partial& tone : by_rms.channels[1]) {
        power += 0.5 * tone.amplitude.in<VoltsPeak>() * tone.amplitude.in<VoltsPeak>();
    }
    EXPECT_NEAR(std::sqrt(power), 0.25, 1e-12);
}

TEST(Multitone, SettingsThatCannotBeAreRefused) {
    MultitoneSettings good;
    good.rate = SampleRate{48000.0};
    MultitoneSettings settings = good;
    settings.period = Seconds{0.0};
    EXPECT_FALSE(design_multitone(settings));
    settings = good;
    settings.band = Band{Hertz{100.0}, Hertz{30000.0}};
    EXPECT_FALSE(design_multitone(settings));
    settings = good;
    settings.tones = 1;
    EXPECT_FALSE(design_multitone(settings));
    settings = good;
    settings.mains = Hertz{0.0};
    EXPECT_FALSE(design_multitone(settings));
}

std::vector<Hertz> all_frequencies() {
    return frequencies_of(described(usual_stimulus(), Seconds{0.5}), Seconds{0.5});
}

// Gains 0.7 and -1.3, crosstalk -80 dB: closed form, no noise. The clock is anywhere.
TEST(MultitoneFit, FindsEveryToneOnAnyClockFromAnyStart) {
    const auto path = [](std::size_t from, std::size_t to, double) -> Complex {
        return from == to ? Complex{from == 0 ? 0.7 : -1.3, 0.0} : Complex{0.0, 1e-4};
    };
    for (const double rate : {44100.0, 48000.0, 192000.0}) {
        for (const double ppm : {-200.0, 0.0, 137.0, 200.0}) {
            BenchSignal signal;
            signal.rate = rate;
            signal.start = 0.123;
            signal.clock_ppm = ppm;
            const auto record = bench_record(usual_stimulus(), path, signal);
            const auto fit = fit_multitone(views(record), all_frequencies(), {});
            ASSERT_TRUE(fit) << fit.error().what;
            EXPECT_NEAR(fit->clock_ppm, ppm, 1e-6);
            for (std::size_t c = 0; c < 2; ++c) {
                const double amplitude = usual_multitone().amplitude_over_peak[c];
                for (const MultitoneTone& tone : usual_multitone().tones[c]) {
                    const auto place = std::lower_bound(fit->frequencies.begin(),
                                                        fit->frequencies.end(), tone.frequency);
                    const auto i = static_cast<std::size_t>(place - fit->frequencies.begin());
                    const double own = std::abs(fit->channels[c][i].amplitude);
                    const double leak = std::abs(fit->channels[1 - c][i].amplitude);
                    EXPECT_NEAR(own / amplitude, c == 0 ? 0.7 : 1.3, 1e-9);
                    EXPECT_NEAR(leak / amplitude, 1e-4, 1e-9);
                }
            }
        }
    }
}

TEST(MultitoneFit, MainsBesideTheTonesDoesNotMoveThem) {
    const auto path = [](std::size_t from, std::size_t to, double) -> Complex {
        return from == to ? 1.0 : 1e-4;
    };
    BenchSignal signal;
    signal.clock_ppm = -77.0;
    signal.mains_hz = 50.013;
    signal.mains = 0.01;
    const auto record = bench_record(usual_stimulus(), path, signal);
    const auto fit = fit_multitone(views(record), all_frequencies(), {Hertz{50.0}, 0.1, {}});
    ASSERT_TRUE(fit);
    for (std::size_t c = 0; c < 2; ++c) {
        for (std::size_t i = 0; i < fit->frequencies.size(); ++i) {
            const double size = std::abs(fit->channels[c][i].amplitude);
            const double own = usual_multitone().amplitude_over_peak[c];
            const double other = usual_multitone().amplitude_over_peak[1 - c];
            EXPECT_LT(std::min(std::abs(size / own - 1.0), std::abs(size / (1e-4 * other) - 1.0)),
                      1e-4)
                << fit->frequencies[i].in<Hertz>();
        }
    }
    ASSERT_FALSE(fit->mains[0].empty());
    EXPECT_NEAR(fit->mains[0][0].frequency.in<Hertz>(), 50.013, 1e-5);
    EXPECT_NEAR(fit->mains[0][0].amplitude, 0.01, 1e-7);
}

// A cubic path makes third-order products; those of one channel miss the tones of the other, and
// its own tones but for compression: a tone of amplitude A among others of the sum of squares S
// grows by 3/4 a3 (2S - A²).  Source: expansion of cos³.
TEST(MultitoneFit, ProductsOfThirdOrderLeaveCrosstalkAlone) {
    constexpr double cubic = 0.01;
    BenchSignal signal;
    auto record = bench_record(
        usual_stimulus(),
        [](std::size_t from, std::size_t to, double) -> Complex { return from == to ? 1.0 : 0.0; },
        signal);
    const std::vector<Waveform> clean = record;
    for (std::size_t c = 0; c < 2; ++c) {
        for (std::size_t n = 0; n < record[c].volts.size(); ++n) {
            const double x = clean[c].volts[n];
            record[c].volts[n] = x + cubic * x * x * x + 1e-4 * clean[1 - c].volts[n];
        }
    }
    const auto fit = fit_multitone(views(record), all_frequencies(), {{}, 0.1, Seconds{0.5}});
    ASSERT_TRUE(fit);
    for (std::size_t c = 0; c < 2; ++c) {
        const double a = usual_multitone().amplitude_over_peak[c];
        const double other = usual_multitone().amplitude_over_peak[1 - c];
        const double squares = a * a * static_cast<double>(usual_multitone().tones[c].size());
        const double expected = 1.0 + 0.75 * cubic * (2.0 * squares - a * a);
        for (std::size_t i = 0; i < fit->frequencies.size(); ++i) {
            const double size = std::abs(fit->channels[c][i].amplitude);
            if (size > 0.1 * a) {
                EXPECT_NEAR(size / a, expected, 1e-3);
            } else {
                // Products stand on most places around, and the ends of the weight let a twentieth
                // of each through: like noise of their density, which the deviation is stated of.
                const double sigma = fit->channels[c][i].sigma;
                EXPECT_NEAR(size, 1e-4 * other, 3.0 * sigma) << fit->frequencies[i].in<Hertz>();
            }
        }
    }
}

TEST(MultitoneFit, SilenceNoiseAndClippingGiveNoNumbersThatAreNone) {
    const std::vector<Hertz> frequencies = all_frequencies();
    const Synthesis silent{48000.0, 0.5};
    EXPECT_FALSE(fit_multitone({silent, silent}, frequencies, {}));
    Synthesis noise{48000.0, 0.5};
    noise.noise(0.1, 3);
    EXPECT_FALSE(fit_multitone({noise, noise}, frequencies, {}));
    auto clipped = bench_record(
        usual_stimulus(),
        [](std::size_t from, std::size_t to, double) -> Complex { return from == to ? 1.0 : 0.0; },
        {});
    for (Waveform& channel : clipped) {
        for (double& x : channel.volts) {
            x = std::clamp(x, -0.2, 0.2);
        }
    }
    const auto fit = fit_multitone(views(clipped), frequencies, {Hertz{50.0}, 0.1, {}});
    ASSERT_TRUE(fit);
    for (const LinePhasor& tone : fit->channels[0]) {
        EXPECT_TRUE(std::isfinite(tone.amplitude.real()) && std::isfinite(tone.sigma));
    }
    const Synthesis brief{48000.0, 0.1};
    const auto too_short = fit_multitone({brief}, frequencies, {});
    ASSERT_FALSE(too_short);
    EXPECT_EQ(too_short.error().kind, FigureFailure::Kind::record_too_short);
}

TEST(MultitoneSource, TonesOfAFileAreFoundWhateverItsLength) {
    const Stimulus stimulus = usual_stimulus();
    for (const double seconds : {0.5, 1.0, 1.2345}) {
        Synthesis left{48000.0, seconds};
        Synthesis right{48000.0, seconds};
        for (const Partial& tone : stimulus.channels[0]) {
            left.line(tone.frequency.in<Hertz>(), tone.amplitude.in<VoltsPeak>(),
                      tone.phase.in<Radians>());
        }
        for (const Partial& tone : stimulus.channels[1]) {
            right.line(tone.frequency.in<Hertz>(), tone.amplitude.in<VoltsPeak>(),
                       tone.phase.in<Radians>());
        }
        left.noise(1e-5, 5);
        right.noise(1e-5, 6);
        const auto source = tones_of({left, right});
        ASSERT_TRUE(source) << source.error().what;
        EXPECT_NEAR(source->repeat.in<Seconds>(), 0.5, 1e-4);
        for (std::size_t c = 0; c < 2; ++c) {
            ASSERT_EQ(source->channels[c].size(), stimulus.channels[c].size());
            for (std::size_t i = 0; i < source->channels[c].size(); ++i) {
                const SourceTone& found = source->channels[c][i];
                const Partial& played = stimulus.channels[c][i];
                // Noise of 1e-5 on a tone of 0.08: sigma of amplitude 1e-7, of phase at the start
                // four times that of the middle; five times that.
                EXPECT_NEAR(found.amplitude, played.amplitude.in<VoltsPeak>(), 1e-6);
                EXPECT_NEAR(found.frequency.in<Hertz>(), played.frequency.in<Hertz>(), 2e-5);
                EXPECT_NEAR(std::remainder(found.phase - played.phase.in<Radians>(), two_pi), 0.0,
                            5e-5);
            }
        }
    }
}

TEST(MultitoneSource, NoiseSilenceAndSweepsAreRefused) {
    const Synthesis silent{48000.0, 1.0};
    EXPECT_FALSE(tones_of({silent, silent}));
    Synthesis noise{48000.0, 1.0};
    noise.noise(0.1, 3);
    EXPECT_FALSE(tones_of({noise, noise}));
    Synthesis sweep{48000.0, 1.0};
    for (std::size_t n = 0; n < sweep.volts().size(); ++n) {
        const double t = static_cast<double>(n) / 48000.0;
        sweep.volts()[n] = std::sin(two_pi * 20.0 / std::log(1000.0) * std::pow(1000.0, t));
    }
    EXPECT_FALSE(tones_of({sweep}));
}

std::vector<CaptureFault> faults_after(const std::function<void(std::vector<double>&)>& change) {
    BenchSignal signal;
    signal.seconds = 1.5;
    signal.clock_ppm = 180.0;
    signal.noise = 1e-4;
    auto record = bench_record(
        usual_stimulus(),
        [](std::size_t from, std::size_t to, double) -> Complex { return from == to ? 1.0 : 0.0; },
        signal);
    change(record[0].volts);
    std::vector<Hertz> frequencies;
    for (const MultitoneTone& tone : usual_multitone().tones[0]) {
        frequencies.push_back(tone.frequency);
    }
    return multitone_faults(record[0], frequencies);
}

TEST(MultitoneTimeline, ASoundRecordHasNoFaults) {
    EXPECT_TRUE(faults_after([](std::vector<double>&) {}).empty());
}

TEST(MultitoneTimeline, MissingAndDoubledSamplesAreCounted) {
    for (const int lost : {1, 7, 64, 1000, 4096}) {
        const auto faults = faults_after([lost](std::vector<double>& x) {
            x.erase(x.begin() + 30000, x.begin() + 30000 + lost);
        });
        ASSERT_EQ(faults.size(), 1U) << lost;
        EXPECT_EQ(faults[0].kind, CaptureFaultKind::gap);
        EXPECT_NE(faults[0].note.find(std::to_string(lost) + " samples"), std::string::npos)
            << faults[0].note;
        EXPECT_NEAR(faults[0].start.in<Seconds>(), 30000.0 / 48000.0, 0.13);
        const auto doubled = faults_after([lost](std::vector<double>& x) {
            const std::vector<double> again(x.begin() + 30000, x.begin() + 30000 + lost);
            x.insert(x.begin() + 30000 + lost, again.begin(), again.end());
        });
        ASSERT_EQ(doubled.size(), 1U) << lost;
        EXPECT_EQ(doubled[0].kind, CaptureFaultKind::repeat);
    }
}

TEST(MultitoneTimeline, ALevelThatStillMovesIsUnsettled) {
    const auto faults = faults_after([](std::vector<double>& x) {
        for (std::size_t n = 0; n < x.size(); ++n) {
            x[n] *= 1.0 + 0.02 * std::exp(-static_cast<double>(n) / 24000.0);
        }
    });
    ASSERT_EQ(faults.size(), 1U);
    EXPECT_EQ(faults[0].kind, CaptureFaultKind::unsettled);
}

}  // namespace
}  // namespace afterload::analysis
