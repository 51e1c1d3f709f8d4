/// Doubling and halving the sample rate of two interleaved channels by half-band filters.
///
/// Linear phase; the passband is flat to the filter's attenuation (120 dB: 0.00001 dB). The
/// sharpest one is also the reconstruction filter of the simulated source and the anti-alias filter
/// of the simulated card.
///
/// Source  J. F. Kaiser, "Nonrecursive digital filter design using the I0-sinh window function"
///         (1974): window and length; every second tap of a half-band filter is zero.
#pragma once

#include <span>
#include <vector>

namespace afterload::instruments {

/// The taps at odd distances 1, 3, 5 ... from the centre (the centre is 0.5), for a passband that
/// ends at `passband` of the higher rate (below 0.25) and a stopband that begins at 0.5 − passband.
[[nodiscard]] std::vector<double> half_band_taps(double passband, double attenuation_decibels);

/// N frames in, 2·N frames out; a frame is left, right.
class RateDoubler {
public:
    explicit RateDoubler(const std::vector<double>& taps);
    /// `out` has twice the length of `in`; neither overlaps the other.
    void process(std::span<const double> in, std::span<double> out);

private:
    std::vector<double> taps_;
    std::vector<double> line_;  ///< the last 2·K − 1 frames, then those of this call
    std::vector<double> between_;
};

/// 2·N frames in, N frames out.
class RateHalver {
public:
    explicit RateHalver(const std::vector<double>& taps);
    /// `in` has twice the length of `out`; neither overlaps the other.
    void process(std::span<const double> in, std::span<double> out);

private:
    std::vector<double> taps_;
    std::vector<double> even_;
    std::vector<double> odd_;
};

}  // namespace afterload::instruments
