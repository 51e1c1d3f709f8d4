// The sweep that ships, sweeps that others made, and the steps on the way to a response.
#include "analysis/sweep.hpp"

#include "analysis/minimum_phase.hpp"
#include "analysis/resampling.hpp"
#include "analysis/sweep_arrival.hpp"
#include "analysis/sweep_clock.hpp"
#include "analysis/sweep_recognition.hpp"
#include "tests/analysis/published.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

namespace afterload::analysis {
namespace {

using namespace afterload::literals;

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr SampleRate rate{48000.0};

TEST(Sweep, TheSecondHarmonicArrivesEarlierAsFarinaGives) {
    // T = 5 s, 20 Hz to 20 kHz: T log n / log(f2/f1), A. Farina, AES preprint 5093, 2000.
    SweepPlan plan;
    plan.low = 20_Hz;
    plan.high = 20_kHz;
    plan.growth = Seconds{5.0 / std::log(1000.0)};
    EXPECT_NEAR(plan.growth.in<Seconds>(), 0.7238241365, 5e-11);
    const double lead[] = {0.501716659, 0.795202091, 1.003433319, 1.164950007, 1.296918751};
    for (int order = 2; order <= 6; ++order) {
        test::expect_published("Farina, AES preprint 5093, 2000",
                               fmt::format("sweep 5 s, 20 Hz to 20 kHz: lead of H{}, s", order),
                               plan.lead(order).in<Seconds>(), lead[order - 2], 5e-10);
    }
    EXPECT_NEAR(plan.lead(10).in<Seconds>(), 1.666666667, 5e-10);
    EXPECT_NEAR(plan.passes(20_kHz).in<Seconds>(), 5.0, 1e-12);
}

TEST(Sweep, IsRoundedToWholeCyclesAsNovakGives) {
    // Novak, Lotton, Simon, JAES 63(10), 2015: f1·L whole.
    const Seconds five = synchronised_growth(20_Hz, 20_kHz, Seconds{5.0});
    EXPECT_NEAR(five.in<Seconds>(), 0.7, 1e-15);
    test::expect_published("Novak, Lotton, Simon, JAES 63(10), 2015",
                           "synchronised sweep of about 5 s, 20 Hz to 20 kHz: length, s",
                           five.in<Seconds>() * std::log(1000.0), 4.835428695, 5e-10);
    const Seconds ten = synchronised_growth(10_Hz, 20_kHz, Seconds{10.0});
    EXPECT_NEAR(ten.in<Seconds>(), 1.3, 1e-15);
    EXPECT_NEAR(ten.in<Seconds>() * std::log(2000.0), 9.881173197, 5e-10);
}

TEST(Sweep, TooShortATimeStillHoldsOneCycle) {
    EXPECT_NEAR(synchronised_growth(5_Hz, 20_kHz, Seconds{0.1}).in<Seconds>(), 0.2, 1e-15);
}

TEST(Sweep, ThatShipsIsFullBetweenItsBandsEndsAndQuietWhereItsPlanSays) {
    const SweepPlan plan = shipped_sweep_plan(10_Hz, Hertz{21600.0}, Seconds{2.0});
    const Stimulus stimulus =
        shipped_sweep(10_Hz, Hertz{21600.0}, Seconds{2.0}, VoltsPeak{0.5}, true, false);
    EXPECT_TRUE(stimulus.sweeps[1].empty());
    EXPECT_NEAR(stimulus.ends()->in<Seconds>(), plan.length.in<Seconds>(), 1e-12);
    const Sweep& sweep = stimulus.sweeps[0].front();
    EXPECT_LE(sweep.start + sweep.fade_in, plan.passes(10_Hz));
    EXPECT_GE(sweep.start + sweep.length() - sweep.fade_out,
              plan.passes(Hertz{21600.0}) - Seconds{1e-12});
    EXPECT_LE(plan.high, rate.nyquist());
    std::vector<double> samples(static_cast<std::size_t>(frames_in(plan.length, rate).count()),
                                0.0);
    add_samples(stimulus, 0, rate, 0.0, Frames{0}, samples);
    const auto at = [](Seconds time) {
        return static_cast<std::size_t>(frames_in(time, rate).count());
    };
    for (std::size_t n = at(Seconds{0.25}) + 1; n < at(plan.begin); ++n) {
        ASSERT_EQ(samples[n], 0.0) << n;
    }
    for (std::size_t n = at(plan.end) + 1; n < at(plan.end + plan.tail) - 1; ++n) {
        ASSERT_EQ(samples[n], 0.0) << n;
    }
    ASSERT_EQ(plan.pilots.size(), 2U);
    EXPECT_EQ(plan.pilots[0].frequency, plan.pilots[1].frequency);
}

// A sweep by its formula with tones of any kind about it.
struct Foreign {
    double low = 12.0;
    double high = 21000.0;
    double seconds = 3.0;
    double phase = 0.0;
    double before_hertz = 0.0;  // 0: no pilot
    double after_hertz = 0.0;
    double gap = 0.0;
    double fade = 0.0;

    [[nodiscard]] double growth() const { return seconds / std::log(high / low); }
    [[nodiscard]] Waveform waveform() const {
        std::vector<double> out;
        const auto add = [&](double length, const auto& shape) {
            const auto count = static_cast<std::size_t>(length * 48000.0);
            for (std::size_t n = 0; n < count; ++n) {
                out.push_back(shape(static_cast<double>(n) / 48000.0));
            }
        };
        const auto none = [](double) { return 0.0; };
        const auto tone = [](double hertz) {
            return [hertz](double t) { return 0.4 * std::sin(two_pi * hertz * t + 0.3); };
        };
        add(0.1, none);
        if (before_hertz > 0.0) {
            add(0.3, tone(before_hertz));
            add(gap, none);
        }
        add(seconds, [this](double t) {
            const double edge = std::min({t, seconds - t, fade});
            const double envelope =
                fade > 0.0 ? 0.5 - 0.5 * std::cos(std::numbers::pi * edge / fade) : 1.0;
            const double turn = two_pi * low * growth() * (std::exp(t / growth()) - 1.0) + phase;
            return 0.6 * envelope * std::sin(turn);
        });
        if (after_hertz > 0.0) {
            add(gap, none);
            add(0.5, tone(after_hertz));
        }
        add(0.2, none);
        return {out, rate};
    }
    [[nodiscard]] double begins() const { return 0.1 + (before_hertz > 0.0 ? 0.3 + gap : 0.0); }
};

class ForeignSweep : public testing::TestWithParam<Foreign> {};

TEST_P(ForeignSweep, IsFoundWithItsPhaseAndItsPilots) {
    const Foreign& foreign = GetParam();
    const Waveform waveform = foreign.waveform();
    const auto plan = recognised_sweep(waveform);
    ASSERT_TRUE(plan.has_value()) << plan.error().what;
    // A fit of clean samples is as good as their arithmetic: parts in 10⁷ are left for the ends.
    EXPECT_NEAR(plan->growth.in<Seconds>() / foreign.growth(), 1.0, 1e-7);
    const double true_low =
        foreign.low * std::exp((plan->start.in<Seconds>() - foreign.begins()) / foreign.growth());
    EXPECT_NEAR(plan->low.in<Hertz>() / true_low, 1.0, 1e-6);
    EXPECT_NEAR(plan->low.in<Hertz>(), foreign.low, 0.05 * foreign.low);
    EXPECT_NEAR(plan->high.in<Hertz>(), foreign.high, 0.02 * foreign.high);
    // sin(2π low L e^{t/L} + phase) here; the formula above has its - 1 in the phase.
    const double expected = foreign.phase - two_pi * foreign.low * foreign.growth();
    EXPECT_NEAR(std::remainder(plan->phase.in<Radians>() - expected, two_pi), 0.0, 1e-3);
    EXPECT_LE(plan->begin.in<Seconds>(), foreign.begins() + 1e-3);
    EXPECT_GE(plan->end.in<Seconds>(), foreign.begins() + foreign.seconds - 1e-3);
    std::vector<double> expected_pilots;
    for (const double hertz : {foreign.before_hertz, foreign.after_hertz}) {
        if (hertz > 0.0) {
            expected_pilots.push_back(hertz);
        }
    }
    ASSERT_EQ(plan->pilots.size(), expected_pilots.size());
    for (std::size_t i = 0; i < expected_pilots.size(); ++i) {
        EXPECT_NEAR(plan->pilots[i].frequency / Hertz{expected_pilots[i]}, 1.0, 1e-4);
        EXPECT_GT(plan->pilots[i].length, Seconds{0.25});
    }
}

INSTANTIATE_TEST_SUITE_P(
    All, ForeignSweep,
    testing::Values(Foreign{}, Foreign{20.0, 20000.0, 1.0, 0.7}, Foreign{5.0, 23500.0, 10.0, 0.0},
                    Foreign{12.0, 21000.0, 3.0, 0.0, 1000.0, 1000.0, 0.2, 0.02},
                    Foreign{12.0, 21000.0, 3.0, 1.0, 1000.0, 1000.0, 0.0},
                    Foreign{12.0, 21000.0, 3.0, 0.0, 440.0, 3000.0, 0.05},
                    Foreign{100.0, 8000.0, 0.5, 0.0, 5000.0, 0.0, 0.1}));

TEST(SweepRecognition, RefusesWhatIsNoExponentialSweep) {
    std::vector<double> linear(96000);
    std::vector<double> noise(96000);
    std::mt19937 engine{5};
    std::normal_distribution<double> normal{0.0, 0.2};
    for (std::size_t n = 0; n < linear.size(); ++n) {
        const double t = static_cast<double>(n) / 48000.0;
        linear[n] = std::sin(two_pi * (20.0 * t + 0.25 * 20000.0 * t * t));
        noise[n] = normal(engine);
    }
    EXPECT_FALSE(recognised_sweep({linear, rate}).has_value());
    EXPECT_FALSE(recognised_sweep({noise, rate}).has_value());
    EXPECT_FALSE(recognised_sweep({std::vector<double>(4800, 0.0), rate}).has_value());
    EXPECT_FALSE(recognised_sweep({std::vector<double>(10, 1.0), rate}).has_value());
    linear[77] = std::numeric_limits<double>::quiet_NaN();
    EXPECT_FALSE(recognised_sweep({linear, rate}).has_value());
}

TEST(SweepArrival, IsTheSampleAtWhichTheSoundWasPutIn) {
    const Foreign foreign{.low = 20.0, .high = 20000.0, .seconds = 0.5};
    const Waveform sound = foreign.waveform();
    std::mt19937 engine{6};
    std::normal_distribution<double> normal{0.0, 0.3};
    // Longer than one block of the search, and too late by a tenth of a second.
    for (const std::int64_t place : {std::int64_t{300000}, std::int64_t{0}, std::int64_t{-4800}}) {
        std::vector<double> record(400000);
        for (std::size_t n = 0; n < record.size(); ++n) {
            const std::int64_t at = static_cast<std::int64_t>(n) - place;
            const bool inside = at >= 0 && at < static_cast<std::int64_t>(sound.volts.size());
            record[n] =
                3.0 + normal(engine) + (inside ? sound.volts[static_cast<std::size_t>(at)] : 0.0);
        }
        const auto found = arrival_of(sound.volts, record);
        ASSERT_TRUE(found.has_value());
        EXPECT_NEAR(static_cast<double>(*found), static_cast<double>(place), 2.0);
    }
}

TEST(SweepArrival, IsNowhereInNoiseOrHumOrSilence) {
    const Waveform sound = Foreign{.low = 20.0, .high = 20000.0, .seconds = 0.5}.waveform();
    std::vector<double> record(200000, 0.0);
    EXPECT_FALSE(arrival_of(sound.volts, record).has_value());
    std::mt19937 engine{7};
    std::normal_distribution<double> normal{0.0, 0.3};
    for (double& v : record) {
        v = normal(engine);
    }
    EXPECT_FALSE(arrival_of(sound.volts, record).has_value());
    for (std::size_t n = 0; n < record.size(); ++n) {
        record[n] = std::sin(two_pi * 50.0 * static_cast<double>(n) / 48000.0);
    }
    EXPECT_FALSE(arrival_of(sound.volts, record).has_value());
}

TEST(SweepClock, IsKnownToPartsInABillionFromThePhasesOfTwoPilots) {
    const SweepPlan plan = shipped_sweep_plan(10_Hz, Hertz{21600.0}, Seconds{2.0});
    const Stimulus stimulus =
        shipped_sweep(10_Hz, Hertz{21600.0}, Seconds{2.0}, VoltsPeak{0.5}, true, false);
    std::vector<double> played(140000, 0.0);
    add_samples(stimulus, 0, rate, 0.0, Frames{0}, played);
    for (const double ppm : {-180.0, 0.0, 3.0, 100.0}) {
        std::vector<double> record(150000, 0.0);
        add_samples(stimulus, 0, rate, ppm, Frames{-1000}, record);
        std::mt19937 engine{8};
        std::normal_distribution<double> normal{0.0, 5e-6};  // -100 dB
        for (double& v : record) {
            v += normal(engine);
        }
        const auto clock = sweep_clock({record, rate}, {played, rate}, plan, 1000);
        ASSERT_TRUE(clock.has_value());
        // The card runs fast by ppm: a second of it is less of the stimulus.
        EXPECT_NEAR(clock->offset, 1.0 / (1.0 + 1e-6 * ppm) - 1.0, 4.0 * clock->u_k1) << ppm;
        EXPECT_LT(clock->u_k1, 1e-9);
        EXPECT_FALSE(clock->slipped());
    }
}

TEST(SweepClock, SeesSamplesThatWereLostBetweenThePilots) {
    const SweepPlan plan = shipped_sweep_plan(10_Hz, Hertz{21600.0}, Seconds{2.0});
    const Stimulus stimulus =
        shipped_sweep(10_Hz, Hertz{21600.0}, Seconds{2.0}, VoltsPeak{0.5}, true, false);
    std::vector<double> played(140000, 0.0);
    add_samples(stimulus, 0, rate, 0.0, Frames{0}, played);
    std::vector<double> record(150000, 0.0);
    add_samples(stimulus, 0, rate, 50.0, Frames{0}, record);
    record.erase(record.begin() + 60000, record.begin() + 60007);
    const auto clock = sweep_clock({record, rate}, {played, rate}, plan, 0);
    ASSERT_TRUE(clock.has_value() && clock->slip.has_value());
    EXPECT_NEAR(*clock->slip, -7.0, 0.01);
    EXPECT_TRUE(clock->slipped());
}

TEST(Resampling, GivesASineItsValuesOnTheOtherClock) {
    // -90 dB side lobes of the Kaiser window: 3e-5 of the amplitude.
    for (const double hertz : {50.0, 1000.0, 15000.0, 21600.0}) {
        std::vector<double> samples(4000);
        for (std::size_t n = 0; n < samples.size(); ++n) {
            samples[n] = std::sin(two_pi * hertz / 48000.0 * static_cast<double>(n));
        }
        const std::vector<double> out = resampled(samples, 0.37, 1.0001, 3900);
        for (std::size_t n = 100; n < 3800; ++n) {
            const double place = 0.37 + 1.0001 * static_cast<double>(n);
            ASSERT_NEAR(out[n], std::sin(two_pi * hertz / 48000.0 * place), 1e-4) << hertz;
        }
    }
}

TEST(Resampling, AtTheSamePlacesGivesTheSamplesAndSilenceAround) {
    const std::vector<double> samples{1.0, -2.0, 3.0};
    EXPECT_EQ(resampled(samples, -1.0, 1.0, 5), (std::vector<double>{0.0, 1.0, -2.0, 3.0, 0.0}));
}

TEST(MinimumPhase, LeavesTheDelayOfADigitalFilterAndItsPolarity) {
    // A resonant low pass of second order, minus 0.4 samples, inverted: H is known in closed form.
    const double k = std::tan(std::numbers::pi * 6000.0 / 48000.0);
    const double scale = 1.0 / (1.0 + k / 2.0 + k * k);
    std::vector<double> hertz;
    std::vector<std::complex<double>> response;
    for (double f = 10.0; f < 21600.0; f *= std::exp2(1.0 / 24.0)) {
        const std::complex<double> z = std::polar(1.0, -two_pi * f / 48000.0);
        const auto h =
            k * k * scale * (1.0 + 2.0 * z + z * z) /
            (1.0 + 2.0 * (k * k - 1.0) * scale * z + (1.0 - k / 2.0 + k * k) * scale * z * z);
        hertz.push_back(f);
        response.push_back(-h * std::polar(1.0, -two_pi * f / 48000.0 * 0.4));
    }
    const auto beyond = excess_delay(hertz, response, 48000.0);
    ASSERT_TRUE(beyond.has_value());
    EXPECT_NEAR(beyond->samples, 0.4, 0.01);
    EXPECT_TRUE(beyond->inverted);
    EXPECT_FALSE(excess_delay(std::span{hertz}.first(10), std::span{response}.first(10), 48000.0)
                     .has_value());
}

}  // namespace
}  // namespace afterload::analysis
