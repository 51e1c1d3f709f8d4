#include "analysis/quasi_peak.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {

namespace {

constexpr double charge_first = 1.5e-3;  // seconds
constexpr double discharge_first = 0.295;
constexpr double charge_second = 0.228;
constexpr double discharge_second = 0.375;

// What both stages make of a steady 1 kHz sine of 1 V rms.
constexpr double steady_sine = 0.8430;

double share(double time_constant, double rate) {
    return -std::expm1(-1.0 / (time_constant * rate));
}

}  // namespace

QuasiPeakDetector::QuasiPeakDetector(SampleRate rate)
    : charge_first_{share(charge_first, rate.frequency().in<Hertz>())},
      keep_first_{1.0 - share(discharge_first, rate.frequency().in<Hertz>())},
      charge_second_{share(charge_second, rate.frequency().in<Hertz>())},
      keep_second_{1.0 - share(discharge_second, rate.frequency().in<Hertz>())} {}

void QuasiPeakDetector::take(double volts) {
    first_ += charge_first_ * std::max(0.0, std::abs(volts) - first_);
    first_ *= keep_first_;
    second_ += charge_second_ * std::max(0.0, first_ - second_);
    second_ *= keep_second_;
}

double QuasiPeakDetector::indication() const {
    return second_ / steady_sine;
}

QuasiPeak quasi_peak(std::span<const double> volts, SampleRate rate) {
    QuasiPeakDetector detector{rate};
    // Some ten of its longest time constants, whatever the record's length.
    const double seconds = static_cast<double>(volts.size()) / rate.frequency().in<Hertz>();
    const int rounds = volts.empty() ? 0 : std::max(1, static_cast<int>(std::ceil(2.0 / seconds)));
    for (int round = 0; round < rounds; ++round) {
        for (const double v : volts) {
            detector.take(v);
        }
    }
    QuasiPeak reading;
    for (const double v : volts) {
        detector.take(v);
        reading.mean += detector.indication();
        reading.largest = std::max(reading.largest, detector.indication());
    }
    reading.mean /= static_cast<double>(std::max<std::size_t>(1, volts.size()));
    return reading;
}

}  // namespace afterload::analysis
