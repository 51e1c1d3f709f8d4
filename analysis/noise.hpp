/// Noise: band power of what a record holds beside the tone, weighted or not, and the mains lines.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/estimate.hpp"
#include "analysis/failure.hpp"
#include "analysis/tone.hpp"

#include <optional>
#include <vector>

namespace afterload::analysis {

/// 20 Hz to 20 kHz.
[[nodiscard]] Band audio_band();

/// 22.4 Hz to 22.4 kHz: the unweighted band of ITU-R BS.468-4 and IEC 60268-1.
[[nodiscard]] Band broadcast_band();

struct NoiseSettings {
    Band bandwidth = audio_band();
    Weighting weighting = Weighting::unweighted;
    Detector detector = Detector::rms;
};

/// Why a noise within `band` cannot be had from `record`: too short for two periods of the lower
/// edge, or an upper edge at or above half the rate.
[[nodiscard]] std::optional<FigureFailure> unfit_for(WaveformView record, Band band);

/// Rms noise voltage of a record without a tone: mean and slope taken off, cosine ends, one
/// transform, one-sided power summed over the band with its edge bins by their covered share,
/// weighted in power.
///
/// With the quasi-peak detector: quiet_record.hpp.
///
/// Units   V rms; of the quasi-peak detector, V rms of the steady sine that reads the same.
/// Shape   at least two periods of the band's lower edge; upper edge below Nyquist.
/// Fails   record_too_short, out_of_range.
/// Source  A-weighting: IEC 61672-1:2013, Annex E; ITU-R BS.468-4.
[[nodiscard]] Expected<Estimate> noise_voltage(WaveformView record, const NoiseSettings& settings);

/// THD+N: rms of everything but the fundamental within the band, over the fundamental.
/// Harmonics above the band and DC are not counted; hum is.
[[nodiscard]] Expected<Estimate> thd_plus_noise(WaveformView record, const ToneFit& fit,
                                                const NoiseSettings& settings);

/// SINAD in dB: rms of the fundamental over the rms of everything else in the band (IEEE Std 1241).
[[nodiscard]] Expected<Estimate> sinad(WaveformView record, const ToneFit& fit,
                                       const NoiseSettings& settings);
/// The same from a THD+N that is known, as a ratio.
[[nodiscard]] Estimate sinad_of(const Estimate& thd_plus_noise);

struct HumLine {
    int order = 1;     ///< of the mains frequency
    Hertz frequency;   ///< as fitted
    Estimate voltage;  ///< V rms, noise taken off
    FittedLine fitted;
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
