/// The tones that somebody's stimulus file holds: any sum of steady sines, a whole number of
/// periods or not.
#pragma once

#include "analysis/failure.hpp"
#include "analysis/quantity.hpp"
#include "analysis/stimulus.hpp"
#include "analysis/waveform.hpp"

#include <vector>

namespace afterload::analysis {

/// One tone as it was played: amplitude · cos(2π f t + phase), t from the start of the stimulus.
struct SourceTone {
    Hertz frequency;
    double amplitude = 0.0;  ///< peak: volts, or shares of full scale where no drive is known
    double phase = 0.0;      ///< radians
    double sigma = 0.0;      ///< standard deviation of the amplitude; 0 of a described stimulus
};

/// What every source channel plays. `repeat` is the time after which it is the same again.
struct MultitoneSource {
    std::vector<std::vector<SourceTone>> channels;  ///< rising frequencies
    Seconds repeat;
};

/// Of a described stimulus that repeats after `repeat`.
[[nodiscard]] MultitoneSource described(const Stimulus& stimulus, Seconds repeat);

/// Finds the tones of each channel: the highest lines of a spectrum, all fitted together with a
/// frequency each; what then still stands out of the rest is fitted too. A channel may be silent.
/// Silence before and after is left out. `repeat` is the period of the grid on which all tones
/// lie, or else the length of the file.
///
/// Shape   at least 0.1 s of sound and three periods of the lowest tone; up to 256 tones a channel,
///         each within 60 dB of the strongest; two that are nearer than 2/T count as one.
/// Fails   record_too_short; no_tone: no channel holds anything, or steady lines leave more than
///         1 % of its rms (noise, a sweep, music); ill_conditioned.
[[nodiscard]] Expected<MultitoneSource> tones_of(const std::vector<WaveformView>& stimulus);

}  // namespace afterload::analysis
