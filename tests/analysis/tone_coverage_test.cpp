// How often the uncertainty of every figure that comes from tones holds, the bench's own errors
// drawn anew each time. 2000 draws know a coverage of 95 % to 0.5 %.
#include "analysis/control_range.hpp"
#include "analysis/distortion_limit.hpp"
#include "analysis/input_sensitivity.hpp"
#include "analysis/level_linearity.hpp"
#include "analysis/measure.hpp"
#include "analysis/measure_signal_to_noise.hpp"
#include "tests/analysis/bench_and_fit.hpp"
#include "tests/analysis/coverage_count.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <map>
#include <random>
#include <string>
#include <vector>

namespace afterload::analysis {
namespace {

using test::decibels;
using test::holds;
using test::Synthesis;

using test::Count;
using test::draws;

/// One draw of a bench whose errors are those that its share states, and of a unit behind it.
class Draw {
public:
    Draw(std::mt19937_64& engine, BenchShare share) : share_{std::move(share)}, engine_{engine} {
        level_ = 1.0 + share_.level_u_k1 * normal();
        balance_ = 1.0 + share_.balance_u_k1 * normal();
        drive_ = 1.0 + share_.drive_u_k1 * normal();
        const double heat = share_.load_heat_u_k1 * normal();
        load_ohms_ = 8.0 * (1.0 + share_.load_u_k1 * normal() + heat);
        hertz_ = 997.0 * (1.0 + 100e-6 * normal());
    }

    double normal() { return std::normal_distribution<double>{}(engine_); }

    /// A tone of `volts` rms, 2nd and 3rd harmonic at `distortion` of it and white noise, as the
    /// card's left or right input gives it.
    Synthesis record(double volts, double distortion, double noise, int channel) {
        const double seen = volts * level_ * (channel == 2 ? balance_ : 1.0);
        const double peak = seen * std::numbers::sqrt2;
        Synthesis record{48000.0, 0.1};
        record.line(hertz_, peak, 3.14 * normal());
        record.line(2.0 * hertz_, peak * distortion, 3.14 * normal());
        record.line(3.0 * hertz_, peak * distortion, 3.14 * normal());
        return record.noise(noise * level_, engine_());
    }

    [[nodiscard]] ToneFit fit(const Synthesis& record) const {
        ToneFitSettings settings;
        settings.nominal = Hertz{997.0};
        return fit_tone(record, settings).value();
    }

    [[nodiscard]] const BenchShare& share() const { return share_; }
    [[nodiscard]] double hertz() const { return hertz_; }
    [[nodiscard]] double load_ohms() const { return load_ohms_; }
    /// What leaves the source where it was told to give 1 V.
    [[nodiscard]] double drive() const { return drive_; }

private:
    BenchShare share_;
    std::mt19937_64& engine_;
    double level_ = 1.0;
    double balance_ = 1.0;
    double drive_ = 1.0;
    double load_ohms_ = 8.0;
    double hertz_ = 997.0;
};

constexpr double distortion = 1e-3;  // of each of two harmonics
constexpr double noise_volts = 2e-3;

Count count_figures(const BenchShare& share, std::uint64_t seed) {
    std::mt19937_64 engine{seed};
    Count count;
    for (int draw = 0; draw < draws; ++draw) {
        Draw bench{engine, share};
        const double right_gain = 1.0 + 0.05 * bench.normal();
        const double left_volts = 4.0 * bench.drive();
        const double right_volts = left_volts * right_gain;
        const Synthesis left = bench.record(left_volts, distortion, noise_volts, 1);
        const Synthesis right = bench.record(right_volts, distortion, noise_volts, 2);
        const ToneFit left_fit = bench.fit(left);
        const ToneFit right_fit = bench.fit(right);
        const ToneRecord first{left, left_fit, 1, bench.share(), {}};
        const ToneRecord second{right, right_fit, 2, bench.share(), {}};

        count.add("output voltage", output_voltage(first), left_volts);
        count.add("output power", output_power(first), left_volts * left_volts / bench.load_ohms());
        count.add("gain", gain(first, VoltsRms{1.0}), decibels(4.0));
        count.add("input sensitivity", input_sensitivity(first, VoltsRms{1.0}, VoltsRms{4.1}),
                  4.1 / 4.0);
        count.add("frequency", frequency(first), bench.hertz());
        count.add("channel balance", channel_balance(first, second), -decibels(right_gain));
        count.add("thd", thd(first, {9, Hertz{21600.0}}), std::sqrt(2.0) * distortion);

        const NoiseSettings settings{audio_band(), Weighting::unweighted, Detector::rms};
        const double in_band = noise_volts * std::sqrt(19980.0 / 24000.0) / left_volts;
        const double truth = std::hypot(std::sqrt(2.0) * distortion, in_band);
        const auto [with_noise, ratio] = thd_plus_noise_and_sinad(first, settings);
        count.add("thd plus noise", with_noise, truth);
        count.add("sinad", ratio, -decibels(truth / std::hypot(1.0, truth)));

        const double leak = 2e-3;
        const Synthesis undriven = bench.record(leak * left_volts, 0.0, 1e-3, 2);
        count.add("channel separation",
                  channel_separation(first, undriven, 2, bench.share(), std::nullopt),
                  -decibels(leak));

        // Two settings at the same drive: a tone control at its end, a mark of the volume control.
        const double boost = 2.5 * (1.0 + 0.1 * bench.normal());
        const Synthesis raised = bench.record(left_volts * boost, distortion, noise_volts, 1);
        const ToneFit raised_fit = bench.fit(raised);
        const ToneRecord third{raised, raised_fit, 1, bench.share(), {}};
        count.add("tone range error",
                  tone_range_error({third, VoltsRms{1.0}}, {first, VoltsRms{1.0}}, Gain{8.0}),
                  decibels(boost) - 8.0);

        const double mark_gain = 1.0 + 0.05 * bench.normal();
        const Synthesis mark_left = bench.record(0.1 * left_volts, distortion, noise_volts, 1);
        const Synthesis mark_right =
            bench.record(0.1 * left_volts * mark_gain, distortion, noise_volts, 2);
        const ToneFit mark_left_fit = bench.fit(mark_left);
        const ToneFit mark_right_fit = bench.fit(mark_right);
        const Figure at_mark = channel_balance({mark_left, mark_left_fit, 1, bench.share(), {}},
                                               {mark_right, mark_right_fit, 2, bench.share(), {}});
        count.add("volume tracking",
                  volume_tracking(channel_balance(first, second), {{"-20 dB", at_mark}}),
                  decibels(right_gain / mark_gain));

        // A unit that loses a little gain at a tenth of a volt.
        const double film = 1.0 - 0.02 * std::abs(bench.normal());
        const Synthesis low = bench.record(0.025 * left_volts * film, 0.0, 0.1 * noise_volts, 1);
        const Synthesis one_volt = bench.record(0.25 * left_volts, 0.0, 0.1 * noise_volts, 1);
        const ToneFit low_fit = bench.fit(low);
        const ToneFit one_volt_fit = bench.fit(one_volt);
        count.add(
            "level linearity",
            level_linearity({{{low, low_fit, 1, bench.share(), {}}, VoltsRms{0.025}},
                             {{one_volt, one_volt_fit, 1, bench.share(), {}}, VoltsRms{0.25}}},
                            {}),
            decibels(film));
    }
    return count;
}

TEST(ToneCoverage, FiguresHoldBetween93And97PerCentWhereNoiseDominates) {
    count_figures(test::without_errors(), 20010).expect(0.93, 0.97);
}

TEST(ToneCoverage, FiguresHoldAtLeast93PerCentOnABenchWithErrorsOfItsOwn) {
    count_figures(test::shop_bench(), 20011).expect(0.93, 1.0);
}

// A response that is flat to 10 kHz and falls by 6 dB an octave from there, straight on both axes.
TEST(ToneCoverage, AResponseAndItsBandEdgeHold) {
    std::mt19937_64 engine{20012};
    std::normal_distribution<double> normal{0.0, 1.0};
    constexpr double flatness_db = 0.02;
    Count edge;
    int within = 0;
    int points_seen = 0;
    for (int draw = 0; draw < draws; ++draw) {
        std::vector<ResponsePoint> points;
        for (const double hertz : {997.0, 20.0, 10000.0, 20000.0, 40000.0}) {
            const double truth_db = hertz > 1e4 ? -decibels(hertz / 1e4) : 0.0;
            const double rig_db = hertz == 997.0 ? 0.0 : flatness_db * normal(engine);
            const double u = 0.003;
            const double seen =
                std::pow(10.0, (truth_db + rig_db) / 20.0) * (1.0 + u * normal(engine));
            points.push_back({Hertz{hertz}, seen, 0.0, u});
        }
        const Figure response =
            frequency_response(points, Hertz{1000.0}, 1, flatness_db, Conditions{});
        ASSERT_TRUE(response.curve) << response.unresolved;
        const Curve& curve = *response.curve;
        for (std::size_t i = 0; i < curve.value.size(); ++i) {
            const double hertz = curve.frequency_hz[i];
            if (std::abs(hertz - 997.0) > 1.0) {
                const double truth_db = hertz > 1e4 ? -decibels(hertz / 1e4) : 0.0;
                within += std::abs(curve.value[i] - truth_db) <= 2.0 * curve.u_k1[i] ? 1 : 0;
                ++points_seen;
            }
        }
        edge.add("upper band edge", bandwidth(response, false, Gain{-3.0}),
                 1e4 * std::pow(10.0, 3.0 / 20.0));
    }
    const double share = static_cast<double>(within) / points_seen;
    std::printf("%-28s %.1f %%\n", "frequency response", 100.0 * share);
    EXPECT_GE(share, 0.93);
    EXPECT_LE(share, 0.97);
    edge.expect(0.93, 1.0);
}

// The distortion rises with the 20th power of the level, and the search stops somewhere within 0.3
// dB below the limit: what is left of the way is the figure's own, and no noise.
TEST(ToneCoverage, PowerAndDriveAtADistortionHold) {
    std::mt19937_64 engine{20013};
    std::normal_distribution<double> normal{0.0, 1.0};
    std::uniform_real_distribution<double> below{0.0, 0.3};
    Count count;
    for (int draw = 0; draw < draws; ++draw) {
        Draw bench{engine, test::shop_bench()};
        const double at_limit = 18.0;
        const double level = std::pow(10.0, -below(engine) / 20.0);
        const double noise = 2e-4;
        // What the meter of the bench reads: its level error moves volts and not the distortion.
        const double level_error = 1.0 + bench.share().level_u_k1 * normal(engine);
        const ToneFit fit =
            test::fit_of(at_limit * level * level_error * (1.0 + noise * normal(engine)), noise);
        DistortionApproach approach;
        approach.limit = 0.01;
        const double thd = 0.01 * std::pow(level, 20.0);
        approach.thd_u_k1 = 0.01 * thd;
        approach.thd = thd + approach.thd_u_k1 * normal(engine);
        approach.level_slope = 20.0;
        const ToneRecord tone{{}, fit, 1, bench.share(), {}};
        count.add("distortion-limited power", distortion_limited_power(tone, approach),
                  at_limit * at_limit / bench.load_ohms());
        count.add("overload level", overload_level(tone, VoltsRms{level / bench.drive()}, approach),
                  1.0);
    }
    count.expect(0.93, 1.0);
}

}  // namespace
}  // namespace afterload::analysis
