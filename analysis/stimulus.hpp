/// What a source plays, as mathematics: steady sines, bursts and sweeps, each channel its own; and
/// samples that go round, where nothing shorter describes it: noise, music.
///
/// A stimulus is described and not sampled, so that a source with its own clock can play it on that
/// clock and an analysis knows exactly what was asked for.
#pragma once

#include "analysis/level.hpp"
#include "analysis/quantity.hpp"

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <vector>

namespace afterload {

/// One sine: amplitude · cos(2π·frequency·t + phase), t from the start of the stimulus.
struct Partial {
    Hertz frequency;
    VoltsPeak amplitude;  ///< open-circuit volts at the source's terminals
    Radians phase;
};

/// A sine that sounds for a while: `partial` times a raised cosine that rises over `fade` from
/// `start` and falls over the last `fade` of `length`. The phase counts from the start of the
/// stimulus, as that of a steady partial does.
struct Burst {
    Partial partial;
    Seconds start;
    Seconds length;  ///< fades included
    Seconds fade;    ///< at most half the length
    Gain rise{0.0};  ///< exponential, over the length, up to the partial's amplitude; 0 dB: steady
};

/// An exponential sine sweep: amplitude · sin(2π · low · growth · e^{t/growth}), t from `start`;
/// its frequency is low · e^{t/growth}. It lasts until that has reached `high`, under raised-cosine
/// fades.
///
/// Synchronised when low · growth is a whole number: harmonic k of the sweep is then the sweep
/// itself, growth · ln k earlier, phase and all.
/// Source  Novak, Lotton, Simon, JAES 63(10), 2015.
struct Sweep {
    Hertz low;
    Hertz high;
    Seconds growth;  ///< time in which the frequency grows e-fold
    VoltsPeak amplitude;
    Seconds start;
    Seconds fade_in;
    Seconds fade_out;

    [[nodiscard]] Seconds length() const;  ///< growth · ln(high/low)
};

/// Samples that are played over and over, each channel its own.
struct Loop {
    /// Of one length, above zero; no magnitude above 1. Left and right may be the same.
    std::array<std::shared_ptr<const std::vector<double>>, 2> samples;
    SampleRate rate;                       ///< of the samples
    std::array<VoltsPeak, 2> amplitude{};  ///< open-circuit volts of a sample of 1; 0: not played
};

/// What both source channels play; nothing at all is silence. Index 0 is left, 1 right.
struct Stimulus {
    std::array<std::vector<Partial>, 2> channels;  ///< steady
    std::array<std::vector<Burst>, 2> bursts;
    std::array<std::vector<Sweep>, 2> sweeps;
    std::optional<Loop> loop;

    [[nodiscard]] bool silent() const;
    /// When the last burst or sweep has ended; nothing while a steady partial or a loop plays.
    [[nodiscard]] std::optional<Seconds> ends() const;
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

/// The same for bursts and sweeps; nothing before their start and after their end.
void add_samples(std::span<const Burst> bursts, SampleRate rate, double clock_ppm, Frames first,
                 std::span<double> out);
void add_samples(std::span<const Sweep> sweeps, SampleRate rate, double clock_ppm, Frames first,
                 std::span<double> out);

/// The same of channel `channel` (0 or 1) of a loop. On the clock of its samples these are the
/// samples; on another one a band-limited interpolation through 32 of them, good to 80 dB up to
/// 0.35 of the rate and falling by 6 dB towards its half.
void add_samples(const Loop& loop, std::size_t channel, SampleRate rate, double clock_ppm,
                 Frames first, std::span<double> out);

/// Everything that channel `channel` (0 or 1) of `stimulus` plays.
void add_samples(const Stimulus& stimulus, std::size_t channel, SampleRate rate, double clock_ppm,
                 Frames first, std::span<double> out);

/// A bound of the magnitude that channel `channel` (0 or 1) reaches: the sum of its steady
/// amplitudes and of whatever else sounds at one time. Negative amplitudes count as positive.
[[nodiscard]] VoltsPeak largest_peak(const Stimulus& stimulus, std::size_t channel);

}  // namespace afterload
