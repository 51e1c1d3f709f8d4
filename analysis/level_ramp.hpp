/// The power at a stated distortion from one record of a tone whose level rises.
///
/// A short-time figure: the rails of an amplifier sag over hundreds of milliseconds, and nothing
/// here is held. It is never a continuous power.
#pragma once

#include "analysis/measure.hpp"

namespace afterload::analysis {

/// A tone whose level rises exponentially: as many decibels in every second.
struct RampSettings {
    Hertz frequency;  ///< true to 1000 ppm
    Gain rise{6.0};   ///< over `length`; above 0
    Seconds length{0.2};
    double thd = 0.01;  ///< ratio; the distortion that the power is stated at
    int highest_order = 9;
};

/// Power of the fundamental where the distortion first rises through `settings.thd`, and stays
/// above. Each window of 5 ms, whole cycles and at least three, is fitted with all harmonics and
/// their rise; windows overlap by half, and between two of them the logarithm of the fundamental is
/// straight against that of the distortion. Where noise moves the windows by more than that, a bent
/// line goes through all of them near the limit. The record may hold silence before and after.
///
/// Details: `level_v` (V rms of the fundamental), `total` (W with the harmonics),
/// `gain_compression_db`: how far the level has fallen behind the ramp since its beginning.
/// Never reached: at least the highest power that surely stays below.
///
/// Units   W into the load of the bench's share.
/// Fails   unresolved without a load, with H3 above 0.45 of the rate, with a record of fewer than
///         four windows, without a tone, in too much noise, and when the distortion is above `thd`
///         from the beginning.
/// Source  joint least squares with a slope to each line; THD_F as IEEE Std 1241.
[[nodiscard]] Figure short_term_power(WaveformView record, int channel, const BenchShare& bench,
                                      const RampSettings& settings, Conditions conditions);

}  // namespace afterload::analysis
