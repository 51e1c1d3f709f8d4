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

double QuasiPeakDetector::indication() const {
    return second_ / steady_sine;
}

QuasiPeak quasi_peak(std::span<const double> volts, SampleRate rate) {
    QuasiPeak reading;
    if (volts.empty()) {
        return reading;
    }
    QuasiPeakDetector detector{rate};
    // Both stages forget their start within 0.15 s while they are charged.
    const double seconds = static_cast<double>(volts.size()) / rate.frequency().in<Hertz>();
    const int rounds = static_cast<int>(std::ceil(0.8 / seconds));
    for (int round = 0; round < rounds; ++round) {
        for (const double v : volts) {
            detector.take(v);
        }
    }
    // The pointer moves over tenths of a second: every sixteenth sample sees all of it.
    constexpr std::size_t apart = 16;
    std::size_t looks = 0;
    for (std::size_t n = 0; n < volts.size(); ++n) {
        detector.take(volts[n]);
        if (n % apart == 0) {
            const double indication = detector.indication();
            reading.mean += indication;
            reading.largest = std::max(reading.largest, indication);
            ++looks;
        }
    }
    reading.mean /= static_cast<double>(looks);
    return reading;
}

}  // namespace afterload::analysis
