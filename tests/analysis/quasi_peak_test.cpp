#include "analysis/quasi_peak.hpp"

#include "analysis/quiet_record.hpp"
#include "analysis/weighting.hpp"
#include "tests/analysis/published.hpp"
#include "tests/analysis/synthesis.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

namespace afterload::analysis {
namespace {

using test::decibels;
using test::Synthesis;
using test::two_pi;

constexpr double rate = 192000.0;

// A 5 kHz tone of 1 V rms that is on for `burst` of every `period` seconds.
std::vector<double> bursts(double burst, double period, double seconds, double frequency = 5000.0) {
    std::vector<double> volts(static_cast<std::size_t>(std::lround(seconds * rate)));
    const auto on = static_cast<std::size_t>(std::lround(burst * rate));
    const auto every = static_cast<std::size_t>(std::lround(period * rate));
    for (std::size_t n = 0; n < volts.size(); ++n) {
        if (n % every < on) {
            volts[n] = std::numbers::sqrt2 *
                       std::sin(two_pi * frequency * static_cast<double>(n % every) / rate);
        }
    }
    return volts;
}

// The largest indication over the last `seconds` of `volts`, taken from rest.
double largest(const std::vector<double>& volts, double seconds) {
    QuasiPeakDetector detector{SampleRate{rate}};
    const auto from = volts.size() - static_cast<std::size_t>(std::lround(seconds * rate));
    double most = 0.0;
    for (std::size_t n = 0; n < volts.size(); ++n) {
        detector.take(volts[n]);
        most = n >= from ? std::max(most, detector.indication()) : most;
    }
    return most;
}

const double steady = largest(bursts(6.0, 6.0, 6.0), 0.5);

struct Limits {
    double of;  // ms, or bursts a second
    double low;
    double high;
};

// Recommendation ITU-R BS.468-4, table 2: single bursts of 5 kHz in percent of the steady tone.
TEST(QuasiPeak, SingleBurstsReadWithinTheLimitsOfTheRecommendation) {
    for (const Limits& row :
         {Limits{1, 13.5, 21.4}, Limits{2, 22.4, 31.6}, Limits{5, 34, 46}, Limits{10, 41, 55},
          Limits{20, 44, 60}, Limits{50, 50, 68}, Limits{100, 58, 78}, Limits{200, 68, 92}}) {
        const double percent = 100.0 * largest(bursts(1e-3 * row.of, 3.0, 2.0), 2.0) / steady;
        EXPECT_GT(percent, row.low) << row.of << " ms";
        EXPECT_LT(percent, row.high) << row.of << " ms";
    }
}

// The same, table 3: bursts of 5 ms repeated.
TEST(QuasiPeak, RepeatedBurstsReadWithinTheLimitsOfTheRecommendation) {
    for (const Limits& row : {Limits{2, 43, 53}, Limits{10, 72, 82}, Limits{100, 94, 100}}) {
        const double percent = 100.0 * largest(bursts(5e-3, 1.0 / row.of, 6.0), 0.5) / steady;
        EXPECT_GT(percent, row.low) << row.of << " a second";
        EXPECT_LT(percent, row.high) << row.of << " a second";
    }
}

// The nominal readings of both tables; a percent of the steady tone is what the fit of the four
// time constants leaves.
TEST(QuasiPeak, BurstsReadWhatTheTablesPrintToAPercentOfTheSteadyTone) {
    for (const auto& [ms, printed] : {std::pair{1, 17.0},
                                      {2, 26.6},
                                      {5, 40.0},
                                      {10, 48.0},
                                      {20, 52.0},
                                      {50, 59.0},
                                      {100, 68.0},
                                      {200, 80.0}}) {
        test::expect_published("ITU-R BS.468-4, table 2",
                               fmt::format("quasi-peak, one burst of {} ms, % of steady", ms),
                               100.0 * largest(bursts(1e-3 * ms, 3.0, 2.0), 2.0) / steady, printed,
                               1.5);
    }
}

// A meter is calibrated with a steady sine: 1 kHz reads its own rms; any other tone that the
// network passes alike, too.
TEST(QuasiPeak, ASteadySineReadsItsRms) {
    for (const double frequency : {1000.0, 3150.0, 5000.0, 10000.0}) {
        EXPECT_NEAR(largest(bursts(6.0, 6.0, 6.0, frequency), 0.5), 1.0, 2e-3) << frequency;
    }
}

// Twice the voltage reads twice, as the Recommendation asks of bursts too.
TEST(QuasiPeak, IsLinearInLevel) {
    std::vector<double> volts = bursts(5e-3, 0.1, 3.0);
    const double once = largest(volts, 0.5);
    for (double& v : volts) {
        v *= 10.0;
    }
    EXPECT_NEAR(largest(volts, 0.5), 10.0 * once, 1e-12 * once);
}

// Through the network, on the fine grid: a tone reads its rms times the network's gain, wherever it
// stands against the sample rate (6 kHz is an eighth of 48 kHz: samples alone miss its peaks).
TEST(QuasiPeak, ToneThroughTheNetworkReadsItsRmsTimesTheGain) {
    for (const double frequency : {400.3, 1000.0, 6000.0, 8000.0, 12000.0}) {
        Synthesis record{48000.0, 1.0};
        record.line(frequency, std::numbers::sqrt2, 0.3);
        const QuietRecord quiet{record, std::nullopt};
        const auto found = quiet.noise({audio_band(), Weighting::itu_r_468, Detector::quasi_peak});
        ASSERT_TRUE(found);
        const double gain = std::abs(itu_r_468_response(Hertz{frequency}));
        // Steps of 176.4 kHz and more: the crest of 12 kHz is missed by up to 1 - cos(π/16) / 2.
        EXPECT_NEAR(found->value / gain, 1.0, 0.01) << frequency;
    }
}

// Mains lines are fitted and taken off before the transform, and come back by their own phasors:
// the reading is that of the record as it is.
TEST(QuasiPeak, MainsLinesCountWhetherTheyAreToldApartOrNot) {
    Synthesis record{48000.0, 1.0};
    record.line(450.1, 1e-2, 1.0).line(50.011, 3e-2, 2.0).noise(1e-6, 1);
    const NoiseSettings settings{audio_band(), Weighting::itu_r_468, Detector::quasi_peak};
    const double apart = QuietRecord{record, Hertz{50.0}}.noise(settings)->value;
    const double together = QuietRecord{record, std::nullopt}.noise(settings)->value;
    EXPECT_NEAR(apart / together, 1.0, 2e-3);
}

TEST(QuasiPeak, StandsBehindItsOwnWeightingOnly) {
    Synthesis record{48000.0, 0.5};
    record.noise(1e-3, 1);
    const auto found = noise_voltage(record, {audio_band(), Weighting::a, Detector::quasi_peak});
    ASSERT_FALSE(found);
    EXPECT_NE(found.error().what.find("ITU-R 468"), std::string::npos);
}

}  // namespace
}  // namespace afterload::analysis
