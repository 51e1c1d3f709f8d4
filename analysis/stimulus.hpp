/// What a source plays, as mathematics: sums of sines, each channel its own.
///
/// A stimulus is described and not sampled, so that a source with its own clock can play it on that
/// clock and an analysis knows exactly what was asked for.
#pragma once

#include "analysis/quantity.hpp"

#include <array>
#include <span>
#include <vector>

namespace afterload {

/// One sine: amplitude · cos(2π·frequency·t + phase), t from the start of the stimulus.
struct Partial {
    Hertz frequency;
    VoltsPeak amplitude;  ///< open-circuit volts at the source's terminals
    Radians phase;
};

/// What both source channels play; no partials is silence. Index 0 is left, 1 right.
struct Stimulus {
    std::array<std::vector<Partial>, 2> channels;

    [[nodiscard]] bool silent() const { return channels[0].empty() && channels[1].empty(); }
};

[[nodiscard]] Stimulus silence();

/// A sine of `frequency` on the channels of `which`, starting at its crest's zero crossing before
/// (sine start), `level` open circuit.
[[nodiscard]] Stimulus tone(Hertz frequency, VoltsRms level, bool left, bool right);

/// Adds samples of `partials` to `out`, beginning `first` frames after the start of the stimulus,
/// on a clock that runs at `rate` and is fast by `clock_ppm` against the stimulus' own frequencies:
/// a frame then lasts 1/(rate·(1 + ppm/10⁶)) seconds of the stimulus, and a tone looks lower by so
/// much.
///
/// The samples do not depend on how a record is cut into calls, to the last digit, and the phase
/// does not drift over hours. `first` may be negative; `out` may have any length.
void add_samples(std::span<const Partial> partials, SampleRate rate, double clock_ppm, Frames first,
                 std::span<double> out);

}  // namespace afterload
