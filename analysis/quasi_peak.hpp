/// The quasi-peak detector of ITU-R BS.468-4: reads clicks and bursts as an ear is annoyed by them.
///
/// The Recommendation fixes what bursts of tone must read and not how. Here: full-wave rectifier,
/// then two stages, each charged towards its input while that is higher (1.5 ms, 228 ms) and
/// always discharged (295 ms, 375 ms). The time constants were fitted to the nominal readings of
/// the Recommendation's tables 2 and 3; every one of them is then met well inside its limits.
#pragma once

#include "analysis/quantity.hpp"

#include <algorithm>
#include <cmath>
#include <span>

namespace afterload::analysis {

class QuasiPeakDetector {
public:
    /// `rate` of the samples it will be given. A rectifier folds: samples must lie far closer
    /// together than the period of what they hold (quasi_peak_rate).
    explicit QuasiPeakDetector(SampleRate rate);

    /// Takes one sample in volts.
    void take(double volts) {
        first_ += charge_first_ * std::max(0.0, std::abs(volts) - first_);
        first_ *= keep_first_;
        second_ += charge_second_ * std::max(0.0, first_ - second_);
        second_ *= keep_second_;
    }

    /// What the pointer shows: V rms of the steady 1 kHz sine that reads the same.
    [[nodiscard]] double indication() const;

private:
    double charge_first_;
    double keep_first_;
    double charge_second_;
    double keep_second_;
    double first_ = 0.0;
    double second_ = 0.0;
};

/// Least sample rate for the detector behind the network, whose output ends near 20 kHz.
inline constexpr double quasi_peak_rate = 176400.0;

struct QuasiPeak {
    double mean = 0.0;     ///< of the indication over the record, V: the reading of a steady noise
    double largest = 0.0;  ///< of the indication: the reading of a burst
};

/// Indication over `volts`, which are taken twice: once to bring the pointer to its place, once to
/// read it.
///
/// Units   volts in, V rms of the steady sine that reads the same out.
/// Source  Recommendation ITU-R BS.468-4, tables 2 and 3.
[[nodiscard]] QuasiPeak quasi_peak(std::span<const double> volts, SampleRate rate);

}  // namespace afterload::analysis
