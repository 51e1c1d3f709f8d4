// One sweep against what is known of the unit in closed form. 0.01 dB and 0.1 degree from 10 Hz to
// 20 kHz are what a response is asked to hold; a clean capture holds a hundredth of it.
#include "analysis/swept_response.hpp"

#include "analysis/measure_sweep.hpp"
#include "analysis/sweep_recognition.hpp"
#include "tests/analysis/swept_capture.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace afterload::analysis {
namespace {

using test::Section;
using test::SweptCapture;

constexpr double degrees = 180.0 / std::numbers::pi;

double decibels(double ratio) {
    return 20.0 * std::log10(ratio);
}

struct Worst {
    double decibels = 0.0;
    double degrees = 0.0;
    double group_delay = 0.0;  // seconds
};

Worst worst_against(const SweptResponse& response, const std::vector<Section>& sections,
                    double rate) {
    const auto truth = [&](double hertz) {
        std::complex<double> h{1.0, 0.0};
        for (const Section& section : sections) {
            h *= section.response(hertz, rate);
        }
        return h;
    };
    Worst worst;
    for (const SweptPoint& point : response.linear) {
        const double hertz = point.frequency.in<Hertz>();
        const std::complex<double> error = point.response / truth(hertz);
        worst.decibels = std::max(worst.decibels, std::abs(decibels(std::abs(error))));
        worst.degrees = std::max(worst.degrees, std::abs(std::arg(error)) * degrees);
        const double step = 1e-4 * hertz;
        const double turn = std::arg(truth(hertz + step) / truth(hertz - step));
        const double delay = -turn / (4.0 * std::numbers::pi * step);
        worst.group_delay =
            std::max(worst.group_delay, std::abs(point.group_delay.in<Seconds>() - delay));
    }
    return worst;
}

// Coupling corner, resonance, steep edge: sections on the card's clock.
const std::vector<std::vector<Section>> units{
    {},
    {Section::high_pass(2.0, 0.707)},
    {Section::high_pass(5.0, 0.6), Section::low_pass(20000.0, 0.707)},
    {Section::low_pass(1000.0, 4.0)},
    {Section::high_pass(50.0, 3.0), Section::low_pass(12000.0, 2.0)}};

TEST(SweptResponse, OfACleanCaptureIsThatOfTheFilterOnBothClocks) {
    for (const double ppm : {0.0, 100.0, -100.0}) {
        for (std::size_t unit = 0; unit < units.size(); ++unit) {
            SweptCapture capture;
            capture.ppm = ppm;
            std::vector<double> record = capture.recorded();
            for (const Section& section : units[unit]) {
                section.run(record);
            }
            const Waveform played = capture.played();
            const auto response = swept_response({record, capture.rate}, played, capture.plan);
            ASSERT_TRUE(response.has_value()) << response.error().what;
            EXPECT_TRUE(response->phase_known);
            EXPECT_NEAR(response->linear.front().frequency.in<Hertz>(), 10.0, 1e-9);
            EXPECT_GT(response->linear.back().frequency, Hertz{21590.0});
            // The filter runs on the card's clock; the curve's frequencies are the source's.
            const Worst worst = worst_against(*response, units[unit], 48000.0 * (1.0 + 1e-6 * ppm));
            EXPECT_LT(worst.decibels, 0.001) << "unit " << unit << ", " << ppm << " ppm";
            EXPECT_LT(worst.degrees, 0.03) << "unit " << unit << ", " << ppm << " ppm";
            EXPECT_LT(worst.group_delay, 3e-5) << "unit " << unit << ", " << ppm << " ppm";
            EXPECT_EQ(std::llround(response->delay.in<Seconds>() * 48e6), 1234000);
        }
    }
}

TEST(SweptResponse, LeavesOutThePhaseWithoutPilots) {
    SweptCapture capture;
    capture.ppm = 100.0;
    capture.pilots = false;
    const Waveform played = capture.played();
    const auto plan = recognised_sweep(played);
    ASSERT_TRUE(plan.has_value());
    EXPECT_TRUE(plan->pilots.empty());
    const auto response = swept_response({capture.recorded(), capture.rate}, played, *plan);
    ASSERT_TRUE(response.has_value()) << response.error().what;
    EXPECT_FALSE(response->phase_known);
    EXPECT_FALSE(response->clock.has_value());
    for (const SweptPoint& point : response->linear) {
        if (point.frequency >= Hertz{10.0} && point.frequency <= Hertz{20000.0}) {
            EXPECT_LT(std::abs(decibels(std::abs(point.response))), 0.01)
                << point.frequency.in<Hertz>();
        }
    }
    const BenchShare none;
    const Figure figure = swept_frequency_response({*response, 1, none, {}}, Hertz{1000.0}, 0.0);
    ASSERT_TRUE(figure.curve.has_value());
    EXPECT_TRUE(figure.curve->phase_degrees.empty());
}

TEST(SweptResponse, HarmonicsOfASquareAndACubeAreThoseOfTheClosedForm) {
    // x + b x² + c x³ of a sine of peak a: H2 = a b/2, H3 = a² c/4, over 1 + 3/4 a² c; of cosines
    // both phases re the fundamental are 0 (b, c > 0) or 180 degrees.
    for (const double ppm : {0.0, 100.0}) {
        for (const double sign : {1.0, -1.0}) {
            SweptCapture capture;
            capture.ppm = ppm;
            std::vector<double> record = capture.recorded();
            const double b = sign * 0.02;
            const double c = sign * 0.01;
            capture.bend(record, b, c);
            const auto response =
                swept_response({record, capture.rate}, capture.played(), capture.plan);
            ASSERT_TRUE(response.has_value()) << response.error().what;
            const double fundamental = 1.0 + 0.75 * 0.25 * c;
            const double expected[] = {0.5 * 0.5 * std::abs(b) / fundamental,
                                       0.25 * 0.25 * std::abs(c) / fundamental};
            ASSERT_EQ(response->harmonics.size(), 4U);
            for (std::size_t i = 0; i < 2; ++i) {
                const SweptOrder& order = response->harmonics[i];
                EXPECT_EQ(order.order, static_cast<int>(i) + 2);
                ASSERT_FALSE(order.points.empty());
                EXPECT_LT(order.points.front().fundamental, Hertz{30.0});
                for (const SweptHarmonic& point : order.points) {
                    const double hertz = point.fundamental.in<Hertz>();
                    if (hertz * order.order > 20000.0) {
                        continue;  // the bent sweep is faded out above
                    }
                    // Few periods fit between the orders at the low end.
                    const double bound = hertz < 100.0 ? 0.5 : 0.05;
                    EXPECT_LT(std::abs(decibels(point.ratio / expected[i])), bound)
                        << "H" << order.order << " at " << hertz;
                    const double phase =
                        std::remainder(point.phase - (sign > 0.0 ? 0.0 : std::numbers::pi),
                                       2.0 * std::numbers::pi);
                    EXPECT_LT(std::abs(phase) * degrees, hertz < 100.0 ? 3.0 : 0.3)
                        << "H" << order.order << " at " << hertz;
                }
            }
            const double thd = std::hypot(expected[0], expected[1]);
            ASSERT_FALSE(response->distortion.empty());
            for (const SweptDistortion& point : response->distortion) {
                const double hertz = point.frequency.in<Hertz>();
                if (hertz > 100.0 && hertz < 6600.0) {
                    EXPECT_LT(std::abs(decibels(point.ratio.value / thd)), 0.05) << hertz;
                }
            }
            EXPECT_LE(response->distortion.back().frequency, Hertz{7201.0});
        }
    }
}

TEST(SweptResponse, IsNotMovedByDistortionOrAnOffset) {
    SweptCapture capture;
    std::vector<double> record = capture.recorded();
    capture.bend(record, 0.02, 0.0);
    for (double& x : record) {
        x += 0.001;
    }
    const auto response = swept_response({record, capture.rate}, capture.played(), capture.plan);
    ASSERT_TRUE(response.has_value()) << response.error().what;
    const Worst worst = worst_against(*response, {}, 48000.0);
    EXPECT_LT(worst.decibels, 0.01);
    EXPECT_LT(worst.degrees, 0.1);
}

TEST(SweptResponse, StatesWhatNoiseLeavesAndNothingBelowIt) {
    SweptCapture capture;
    std::vector<double> record = capture.recorded();
    Section::low_pass(1000.0, 0.707).run(record);
    SweptCapture::add_noise(record, 1e-3, 17);
    const auto response = swept_response({record, capture.rate}, capture.played(), capture.plan);
    ASSERT_TRUE(response.has_value()) << response.error().what;
    EXPECT_GT(response->in_noise, 0);  // -53 dB at the top, under the noise of so loud a floor
    int within = 0;
    for (const SweptPoint& point : response->linear) {
        EXPECT_LE(point.u_relative, 0.5);
        const double truth = std::abs(
            Section::low_pass(1000.0, 0.707).response(point.frequency.in<Hertz>(), 48000.0));
        within += std::abs(std::abs(point.response) / truth - 1.0) < 3.0 * point.u_relative ? 1 : 0;
    }
    EXPECT_GT(within, static_cast<int>(0.97 * static_cast<double>(response->linear.size())));
}

TEST(SweptResponse, AHarmonicInTheNoiseIsLeftOut) {
    SweptCapture capture;
    std::vector<double> record = capture.recorded();
    SweptCapture::add_noise(record, 1e-3, 18);
    const auto response = swept_response({record, capture.rate}, capture.played(), capture.plan);
    ASSERT_TRUE(response.has_value()) << response.error().what;
    const BenchShare none;
    const SweptRecord swept{*response, 1, none, {}};
    const Figure thd = swept_distortion(swept);
    const auto left_out = std::find_if(thd.details.begin(), thd.details.end(),
                                       [](const auto& d) { return d.first == "points_in_noise"; });
    ASSERT_NE(left_out, thd.details.end());
    EXPECT_GT(left_out->second, 0.8 * static_cast<double>(response->distortion.size()));
}

TEST(SweptResponse, UnfitRecordsFailAndNeverGiveNaN) {
    const SweptCapture capture;
    const Waveform played = capture.played();
    const std::vector<double> whole = capture.recorded();
    const auto tried = [&](const std::vector<double>& record) {
        return swept_response({record, capture.rate}, played, capture.plan);
    };
    EXPECT_FALSE(tried({}).has_value());
    EXPECT_FALSE(tried(std::vector<double>(5, 0.1)).has_value());
    EXPECT_FALSE(tried(std::vector<double>(100000, 0.0)).has_value());
    EXPECT_FALSE(tried(std::vector<double>(100000, 0.7)).has_value());
    std::vector<double> noise(100000, 0.0);
    SweptCapture::add_noise(noise, 0.1, 19);
    EXPECT_FALSE(tried(noise).has_value());
    std::vector<double> broken = whole;
    broken[60000] = std::numeric_limits<double>::infinity();
    EXPECT_FALSE(tried(broken).has_value());
    EXPECT_FALSE(swept_response({whole, SampleRate{44100.0}}, played, capture.plan).has_value());
    const std::vector<double> silent(played.volts.size(), 0.0);
    EXPECT_FALSE(
        swept_response({whole, capture.rate}, {silent, capture.rate}, capture.plan).has_value());

    // Stimulus and capture given the wrong way round, backwards, or cut anywhere: whatever comes is
    // a number.
    std::vector<std::vector<double>> odd{played.volts, {whole.rbegin(), whole.rend()}};
    for (const double share : {0.05, 0.3, 0.5, 0.62, 0.75, 0.9, 0.99}) {
        const auto cut = static_cast<std::ptrdiff_t>(share * static_cast<double>(whole.size()));
        odd.emplace_back(whole.begin(), whole.begin() + cut);
        odd.emplace_back(whole.begin() + cut, whole.end());
    }
    for (const std::vector<double>& record : odd) {
        const auto response = tried(record);
        if (!response) {
            EXPECT_FALSE(response.error().what.empty());
            continue;
        }
        for (const SweptPoint& point : response->linear) {
            ASSERT_TRUE(std::isfinite(std::abs(point.response)));
            ASSERT_TRUE(std::isfinite(point.u_relative));
            ASSERT_TRUE(std::isfinite(point.group_delay.in<Seconds>()));
        }
        for (const SweptOrder& order : response->harmonics) {
            for (const SweptHarmonic& point : order.points) {
                ASSERT_TRUE(std::isfinite(point.ratio) && std::isfinite(point.sigma) &&
                            std::isfinite(point.phase));
            }
        }
    }
}

TEST(SweptResponse, OfAnySoundGivesTheMagnitudeAlone) {
    // A linear sweep is no exponential one: divided out as it is.
    std::vector<double> sound(96000);
    for (std::size_t n = 0; n < sound.size(); ++n) {
        const double t = static_cast<double>(n) / 48000.0;
        sound[n] = 0.5 * std::sin(2.0 * std::numbers::pi * (5.0 * t + 0.25 * 23000.0 * t * t));
    }
    std::vector<double> record(130000, 0.0);
    std::copy(sound.begin(), sound.end(), record.begin() + 500);
    const Section filter = Section::low_pass(3000.0, 1.0);
    filter.run(record);
    const Waveform played{sound, SampleRate{48000.0}};
    const auto response = swept_response({record, played.rate}, played, plan_of_any_sound(played));
    ASSERT_TRUE(response.has_value()) << response.error().what;
    EXPECT_FALSE(response->phase_known);
    EXPECT_TRUE(response->harmonics.empty());
    EXPECT_TRUE(response->distortion.empty());
    for (const SweptPoint& point : response->linear) {
        const double hertz = point.frequency.in<Hertz>();
        if (hertz > 50.0 && hertz < 20000.0) {
            EXPECT_LT(std::abs(decibels(std::abs(point.response) /
                                        std::abs(filter.response(hertz, 48000.0)))),
                      0.01)
                << hertz;
        }
    }
}

TEST(SweptFigures, StateTheirConditionsAndTheDelayTakenOut) {
    SweptCapture capture;
    std::vector<double> record = capture.recorded();
    Section::high_pass(20.0, 0.707).run(record);
    capture.bend(record, 0.02, 0.01);
    const auto response = swept_response({record, capture.rate}, capture.played(), capture.plan);
    ASSERT_TRUE(response.has_value()) << response.error().what;
    BenchShare bench;
    bench.present = true;
    bench.distortion = {{VoltsRms{1.0}, AmplitudeRatio{1e-5}, AmplitudeRatio{2e-5}}};
    const SweptRecord swept{*response, 2, bench, {}};
    const Figure curve = swept_frequency_response(swept, Hertz{1000.0}, 0.02);
    EXPECT_EQ(curve.kind, FigureKind::frequency_response);
    EXPECT_EQ(curve.channel, 2);
    EXPECT_EQ(curve.conditions.reference_frequency, Hertz{1000.0});
    EXPECT_EQ(curve.curve->phase_degrees.size(), curve.curve->value.size());
    EXPECT_EQ(curve.details.front().first, "delay");
    EXPECT_NEAR(curve.details.front().second, 1234.0 / 48000.0, 1e-9);
    // A second-order high pass of Q 0.707 is 3.01 dB down at its corner.
    const Figure low = bandwidth(curve, true, Gain{-3.01});
    // The budget holds the chord between two points of the curve.
    EXPECT_NEAR(*low.value, 20.0, 2.0 * combined(low.budget));

    const Figure thd = swept_distortion(swept);
    EXPECT_EQ(thd.kind, FigureKind::thd);
    EXPECT_FALSE(thd.value.has_value());
    EXPECT_EQ(thd.conditions.highest_order, 5);
    EXPECT_NEAR(*thd.rig_added, 3e-5, 1e-12);
    ASSERT_TRUE(thd.curve.has_value());
    const Figure second = swept_harmonic(swept, response->harmonics.front());
    EXPECT_EQ(second.kind, FigureKind::harmonic);
    EXPECT_EQ(second.conditions.highest_order, 2);
    EXPECT_EQ(second.curve->phase_degrees.size(), second.curve->value.size());
}

}  // namespace
}  // namespace afterload::analysis
