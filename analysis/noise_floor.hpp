/// The noise of a residual around a frequency.
#pragma once

#include "analysis/quantity.hpp"

#include <cstddef>
#include <span>
#include <vector>

namespace afterload::analysis {

/// Periodogram of a record that every known line has been taken off. Short records are transformed
/// whole, with the ends of the fit; long ones in overlapping Hann pieces of a sixth of a second.
class NoiseFloor {
public:
    /// `lines` are the frequencies that were fitted: a fit takes the noise at them away too, so
    /// bins within 1/T of one are not asked. At least 64 samples.
    NoiseFloor(std::span<const double> residual, SampleRate rate, double ends,
               const std::vector<double>& lines_hz);

    /// Variance a sample of white noise that is as dense as the residual around `frequency`: its
    /// one-sided density there times half the rate. A bin twelve times above its neighbours' mean
    /// is a line that nobody fitted and not noise; it does not count.
    [[nodiscard]] double variance_around(Hertz frequency) const;

private:
    double bin_hz_ = 1.0;
    int pieces_ = 1;
    std::vector<double> variance_;  // of each bin, as variance a sample
    std::vector<bool> taken_;       // a fitted line stands here
};

}  // namespace afterload::analysis
