/// Power of a record within a band of frequencies, from one transform.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/estimate.hpp"
#include "analysis/quantity.hpp"
#include "analysis/waveform.hpp"

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

namespace afterload::analysis {

/// One-sided power a bin, V². The record is cut to a good length, mean and straight line are taken
/// off, 5 % cosine ends laid on, and it is transformed once: (2 / (N Σw²)) |X_k|², which sums to
/// the mean square. Without the straight line taken off, a slow ramp is noise at every frequency.
class Periodogram {
public:
    /// At least 64 samples.
    explicit Periodogram(WaveformView record);

    struct Power {
        double value = 0.0;     ///< V²
        double variance = 0.0;  ///< of value, from the actual spectrum: lines tell less than noise

        [[nodiscard]] Estimate rms() const;  ///< V
    };
    /// Sum over `band`; its edge bins (one bin wide, centred) count by their covered share.
    [[nodiscard]] Power within(Band band, Weighting weighting) const;

    /// Mean density over `band`, V² in 1 Hz, of the bins that are noise: those twelve times above
    /// their neighbours are lines and do not count. At least the bin nearest to the middle does.
    [[nodiscard]] Power mean_noise(Band band) const;

    [[nodiscard]] Hertz bin_width() const { return Hertz{bin_hz_}; }

    /// Samples that were transformed: the record's first ones, a good length.
    [[nodiscard]] std::size_t length() const { return length_; }
    /// The transform itself, of the weighted samples; nothing is scaled.
    [[nodiscard]] const std::vector<std::complex<double>>& bins() const { return bins_; }
    /// Power of bin `k`, V².
    [[nodiscard]] double power(std::size_t k) const { return power_.at(k); }
    /// Mean noise power of bin `k`, V², lines left out.
    [[nodiscard]] double noise(std::size_t k) const { return noise_.at(k); }
    /// What the ends cost in independent bins: N Σw⁴ / (Σw²)².
    [[nodiscard]] double spread() const { return spread_; }

private:
    double bin_hz_ = 1.0;
    double spread_ = 1.0;  // N Σw⁴ / (Σw²)²: what the ends cost in independent bins
    std::size_t length_ = 0;
    std::vector<std::complex<double>> bins_;
    std::vector<double> power_;
    std::vector<double> noise_;  // the same without lines: from medians over neighbouring bins
};

}  // namespace afterload::analysis
