/// A signal of many tones at once, left and right each its own: one short record of it holds gain,
/// response, balance and separation of both channels.
///
/// All tones lie on a grid of 1/T, so that the signal repeats after T. Left tones stand on places
/// ±1 modulo 8 of the grid, right ones on 4: the second- and third-order products of one channel
/// then mostly miss the tones of the other. Each tone is chosen so that the rest do, too; see
/// design_multitone(). Three left tones stand on ±2 instead: a signal of odd places alone
/// is its own inverse half a period later, and no polarity could be told from it.
#pragma once

#include "analysis/failure.hpp"
#include "analysis/quantity.hpp"
#include "analysis/stimulus.hpp"

#include <array>
#include <optional>
#include <vector>

namespace afterload::analysis {

struct MultitoneSettings {
    SampleRate rate;           ///< of the source
    Seconds period{0.5};       ///< T; the lowest tones want T of several of their cycles
    std::optional<Band> band;  ///< absent: 10 Hz to 0.45 of the rate
    int tones = 31;            ///< a channel, wanted: a place that fits nowhere is left out
    Hertz mains{50.0};         ///< no tone within 1.5/T of one of its multiples
    std::vector<Hertz> near{Hertz{1000.0}, Hertz{10000.0}};  ///< a tone of each channel near these
    bool operator==(const MultitoneSettings&) const = default;
};

struct MultitoneTone {
    Hertz frequency;
    Radians phase;  ///< of a cosine, at the start of the period
};

/// All tones of a channel have one amplitude.
struct Multitone {
    Seconds period;
    std::array<std::vector<MultitoneTone>, 2> tones;  ///< rising; 0 left, 1 right
    std::array<double, 2> crest{};  ///< peak over rms of each channel, 1.414 a sine
    /// Amplitude of a tone over the peak of its channel.
    std::array<double, 2> amplitude_over_peak{};
};

/// Tones spaced evenly on a logarithmic scale as nearly as this allows: within one channel and from
/// each to the other, no tone on the 2nd to 10th harmonic of another, on a sum or difference of two
/// or on a third-order product of two or three (a ± b ± c, 2a ± b); none within 1.5/T of a mains
/// line; six places to the next of its channel and three to one of the other. Products of tones of
/// both channels at once are not looked at: they need a path that both share.
///
/// The lowest tones stand on place 7 (left) and 12 (right) or above: 14 and 24 Hz at half a second.
///
/// Phases give a low crest factor: the best of a few fixed draws, then improved by steepest descent
/// on a high norm of the period. The same settings give the same tones.
///
/// Shape   period 0.05 to 10 s and 4 to 2^22 places inside the band; 2 to 200 tones a channel;
///         low < high <= half the rate; mains 40 to 70 Hz.
/// Fails   out_of_range.
/// Source  crest by ever higher norms: Guillaume, Schoukens, Pintelon, Kollár, "Crest-factor
///         minimization using nonlinear Chebyshev approximation methods", IEEE Trans. IM 40(6),
///         1991.
[[nodiscard]] Expected<Multitone> design_multitone(const MultitoneSettings& settings);

/// To be played with peaks of `left` and `right`.
[[nodiscard]] Stimulus at_peak(const Multitone& multitone, VoltsPeak left, VoltsPeak right);

/// To be played with these rms voltages, of all tones of a channel together.
[[nodiscard]] Stimulus at_rms(const Multitone& multitone, VoltsRms left, VoltsRms right);

}  // namespace afterload::analysis
