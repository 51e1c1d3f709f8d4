/// From a fitted multitone to figures: gain, response, balance, separation, polarity, identity and
/// what is no tone, of all channels from one record. In the manner of measure.hpp: U covers the fit
/// and what the bench says; a reading that noise or the rig could explain is a bound.
#pragma once

#include "analysis/measure.hpp"
#include "analysis/multitone_fit.hpp"
#include "analysis/multitone_source.hpp"

#include <optional>
#include <vector>

namespace afterload::analysis {

/// A record of one or more channels, its fit, and what was played. Channel c of the record is meant
/// to carry source channel c, or the only one there is.
struct MultitoneRecord {
    const std::vector<WaveformView>& record;
    const MultitoneFit& fit;
    const MultitoneSource& source;
    std::vector<BenchShare> bench;  ///< one a channel of the record
    Conditions conditions;          ///< as driven; `signal` is added
};

/// The frequencies of all source channels, each once: what fit_multitone() asks for. Tones of two
/// channels that differ by less than a tenth of 1/`record` are one.
[[nodiscard]] std::vector<Hertz> frequencies_of(const MultitoneSource& source, Seconds record);

/// Which instant of the stimulus the record begins with, and which outputs are upside down.
struct Alignment {
    struct Output {
        int input = 0;                 ///< source channel whose tones stand here, from 1; 0: none
        double margin_db = 0.0;        ///< its tones over those of the next source channel
        std::optional<bool> inverted;  ///< absent: the record does not tell
    };
    std::vector<Output> outputs;  ///< one a channel of the record
    Seconds start;                ///< of the stimulus at the record's first sample, 0 … repeat
    /// Outputs against each other can be told even where no single one can.
    std::vector<std::vector<std::optional<bool>>> opposite;
};

/// Finds both from the phases of the tones between 100 Hz and 4 kHz, over the whole period of the
/// stimulus. A stimulus that is its own inverse at another instant tells no polarity.
/// Where the latency of the bench is known, only starts within ±`start_within` of `start` are
/// tried.
[[nodiscard]] Alignment aligned(const MultitoneRecord& multitone,
                                std::optional<Seconds> start = std::nullopt,
                                Seconds start_within = Seconds{0.001});

/// Response of one output re its tone nearest to `reference`. Phase re what was played, the common
/// delay taken off; where the record begins in the stimulus stands in the details as
/// `start_in_stimulus_s`.
[[nodiscard]] Figure multitone_response(const MultitoneRecord& multitone,
                                        const Alignment& alignment, int channel, Hertz reference);

/// Gain at the tone nearest to `at`, where the source's amplitudes are volts peak. A channel that
/// carries none of the tones has what stands at its own, not less than its noise.
[[nodiscard]] Figure multitone_gain(const MultitoneRecord& multitone, const Alignment& alignment,
                                    int channel, Hertz at);

/// Output `left` over output `right`, dB, each re what it was played: the value at the left tone
/// nearest to `at` and a curve over all left tones. The right response between its tones is a cubic
/// through four of them on a logarithmic axis; what a straight line makes of it is the bound.
[[nodiscard]] Figure multitone_balance(const MultitoneRecord& multitone, const Alignment& alignment,
                                       int left, int right, Hertz at);

/// How much of the tones of output `from` stands in output `to`, dB, positive: the value at the
/// tone nearest to `at`, and a curve over all tones that `from` alone was played. Points of the
/// curve that noise could explain are not numbers.
[[nodiscard]] Figure multitone_separation(const MultitoneRecord& multitone,
                                          const Alignment& alignment, int from, int to, Hertz at);

/// 1 in phase with the stimulus, -1 inverted.
[[nodiscard]] Figure multitone_polarity(const MultitoneRecord& multitone,
                                        const Alignment& alignment, int channel);
/// 1 two outputs in phase, -1 one inverted.
[[nodiscard]] Figure multitone_polarity(const MultitoneRecord& multitone,
                                        const Alignment& alignment, int first, int second);

/// 1 the channel carries its own signal, 0 another's; whose stands in the details as `input`, and
/// `margin_db` is by how much.
[[nodiscard]] Figure multitone_identity(const MultitoneRecord& multitone,
                                        const Alignment& alignment, int channel);

/// Rms of all inside the band that is no tone of this channel (distortion, noise, hum, crosstalk)
/// over the rms of its tones. Kind thd_plus_noise with the condition `signal: multitone`: not to be
/// held against a figure of one sine.
[[nodiscard]] Figure multitone_distortion_plus_noise(const MultitoneRecord& multitone,
                                                     const Alignment& alignment, int channel,
                                                     Band bandwidth);

}  // namespace afterload::analysis
