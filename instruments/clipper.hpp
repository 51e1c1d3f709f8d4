/// Hard clipping of two interleaved channels that does not fold into the audio band.
///
/// What lies beyond a limit is averaged over the straight line between samples before it is taken
/// off (a first-order antiderivative), which takes the products near multiples of the sample rate
/// down by the ratio of their folded frequency to the rate. Samples that stay inside pass
/// untouched.
///
/// Source  J. D. Parker, V. Zavalishin, E. Le Bivic, "Reducing the aliasing of nonlinear
/// waveshaping
///         using continuous-time convolution" (DAFx 2016), applied to the excess alone.
#pragma once

#include <array>
#include <span>

namespace afterload::instruments {

/// Limits of both channels in volts, upper above lower.
struct ClipLimits {
    std::array<double, 2> upper{1e9, 1e9};
    std::array<double, 2> lower{-1e9, -1e9};
};

class Clipper {
public:
    /// Clips in place all frames of `frames` but the last, which the next call gets as its first
    /// (unclipped): the output is one frame late. Limits move in a straight line from those at the
    /// end of the last call to `at_end`.
    void process(std::span<double> frames, const ClipLimits& at_end);

private:
    void clip_side(std::span<double> frames, std::size_t channel, double sign, double from,
                   double to);

    ClipLimits limits_;
    bool started_ = false;
    /// Mean excess up to the first frame of the next call: left up, left down, right up, right
    /// down.
    std::array<double, 4> average_{};
};

}  // namespace afterload::instruments
