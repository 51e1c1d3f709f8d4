/// The tones of a multitone in a record of any number of channels, fitted together with the mains
/// and a slow DC on one clock that is not known.
#pragma once

#include "analysis/failure.hpp"
#include "analysis/quantity.hpp"
#include "analysis/tone.hpp"
#include "analysis/waveform.hpp"

#include <complex>
#include <optional>
#include <vector>

namespace afterload::analysis {

struct MultitoneFitSettings {
    std::optional<Hertz> mains;  ///< mains lines are fitted with their own frequency
    double ends = 0.1;           ///< share of the record in the two cosine ends of the weight
    /// Period of the grid on which the tones lie. Products of a unit that is not linear lie there,
    /// too: those that stand out within a few places of a tone are then fitted with the tones, and
    /// their own leak no longer counts as the tone's.
    std::optional<Seconds> period = {};
};

/// Re{ amplitude · e^{jωt} }, t = 0 in the middle of the record, peak volts.
struct LinePhasor {
    std::complex<double> amplitude;
    double sigma = 0.0;  ///< standard deviation along any direction, from the noise around the line
};

struct MultitoneFit {
    std::vector<Hertz> frequencies;  ///< as played, rising
    double clock_ppm = 0.0;          ///< the record shows a tone of f at f · (1 + ppm/10⁶)
    double clock_u_k1_ppm = 0.0;
    std::vector<std::vector<LinePhasor>> channels;  ///< of each channel, one a frequency
    std::vector<std::vector<FittedLine>> mains;     ///< of each channel; empty without mains
    std::vector<std::vector<double>> dc;            ///< of each channel, degree 0 first
    std::vector<double> residual_rms;               ///< of each channel, weighted
    Seconds length;
    SampleRate rate;
};

/// Fits tones of `frequencies` (of all source channels together) in every channel of `record`.
/// The clock is searched within ±500 ppm, then found by least squares over all tones and channels.
/// Mains lines within 1.5/T of a tone are left out: that hum is then in the tone.
///
/// Units   volts, hertz.
/// Shape   1 to 512 frequencies below 0.49 of the rate, channels of one length and rate; the record
///         as long as 1/spacing of the two nearest tones, and one cycle of the lowest, or 5 % less.
/// Fails   record_too_short, out_of_range, ill_conditioned; no_tone: in no channel does any tone
///         stand 20 dB above the noise.
/// Source  weighted least squares with a common unknown clock (IEEE Std 1057, extended).
[[nodiscard]] Expected<MultitoneFit> fit_multitone(const std::vector<WaveformView>& record,
                                                   std::vector<Hertz> frequencies,
                                                   const MultitoneFitSettings& settings);

/// `record`, which is channel `channel` of the fit, without DC and without the tones for which
/// `taken[i]` is true; the mains stay.
[[nodiscard]] Waveform without_tones(WaveformView record, const MultitoneFit& fit,
                                     std::size_t channel, const std::vector<bool>& taken);

}  // namespace afterload::analysis
