/// Noise: band power of what a record holds beside the tone, weighted or not, and the mains lines.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/estimate.hpp"
#include "analysis/failure.hpp"
#include "analysis/tone.hpp"

#include <vector>

namespace afterload::analysis {

/// 20 Hz to 20 kHz.
[[nodiscard]] Band audio_band();

struct NoiseSettings {
    Band bandwidth = audio_band();
    Weighting weighting = Weighting::unweighted;
};

/// Rms noise voltage of a record without a tone: mean and slope taken off, cosine ends, one
/// transform, one-sided power summed over the band with its edge bins by their covered share,
/// weighted in power.
///
/// Units   V rms.
/// Shape   at least two periods of the band's lower edge; upper edge below Nyquist.
/// Fails   record_too_short, out_of_range.
/// Source  A-weighting: IEC 61672-1:2013, Annex E.
[[nodiscard]] Expected<Estimate> noise_voltage(WaveformView record, const NoiseSettings& settings);

/// THD+N: rms of everything but the fundamental within the band, over the fundamental.
/// Harmonics above the band and DC are not counted; hum is.
[[nodiscard]] Expected<Estimate> thd_plus_noise(WaveformView record, const ToneFit& fit,
                                                const NoiseSettings& settings);

/// SINAD in dB: rms of the fundamental over the rms of everything else in the band (IEEE Std 1241).
[[nodiscard]] Expected<Estimate> sinad(WaveformView record, const ToneFit& fit,
                                       const NoiseSettings& settings);

struct HumLine {
    int order = 1;     ///< of the mains frequency
    Hertz frequency;   ///< as fitted
    Estimate voltage;  ///< V rms
};
struct Hum {
    std::vector<HumLine> lines;  ///< orders 1 to 10 (those below Nyquist)
    Estimate together;           ///< V rms, root of the sum of squares, noise taken off
};

/// Mains lines of a record without a tone. The mains frequency is fitted within ±0.5 Hz of nominal.
///
/// Shape   at least 0.1 s.
/// Fails   record_too_short.
[[nodiscard]] Expected<Hum> hum(WaveformView record, Hertz nominal_mains);

/// One-sided noise density for a plot: `columns` values of V rms in 1 Hz, frequencies spaced evenly
/// on a logarithmic axis over `band`; each is the rms average over its column.
struct Density {
    std::vector<double> frequency_hz;
    std::vector<double> volts_per_root_hz;
};
[[nodiscard]] Expected<Density> noise_density(WaveformView record, Band band, int columns);

}  // namespace afterload::analysis
