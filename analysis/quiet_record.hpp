/// A record without a tone, taken apart once for all its noise figures: the mains lines are fitted
/// and taken off, and what is left is transformed.
#pragma once

#include "analysis/band_power.hpp"
#include "analysis/failure.hpp"
#include "analysis/noise.hpp"
#include "analysis/quasi_peak.hpp"
#include "analysis/waveform.hpp"

#include <optional>

namespace afterload::analysis {

class QuietRecord {
public:
    /// Any finite samples; of fewer than 64 every figure says that the record is too short. Without
    /// `mains` no lines are told apart: noise is then all there is.
    QuietRecord(WaveformView record, std::optional<Hertz> mains);

    /// The mains lines; nothing without mains, a failure where the record is too short for them.
    [[nodiscard]] const std::optional<Expected<Hum>>& hum() const { return hum_; }

    /// Noise with its mains lines, as a meter reads it.
    ///
    /// Through ITU-R 468 with the quasi-peak detector: the middle nine tenths of the record (its
    /// cosine ends are left out) pass the network with its phase, by transforms back onto a grid of
    /// at least 176.4 kHz, and the detector reads them as a pointer would that has come to rest:
    /// the mean of its indication. Its uncertainty is that of a Gaussian noise of the same rms.
    ///
    /// Units   V rms.
    /// Shape   at least two periods of the band's lower edge; upper edge below Nyquist; quasi-peak
    ///         goes with ITU-R 468 alone.
    /// Fails   record_too_short, out_of_range.
    /// Source  Recommendation ITU-R BS.468-4; IEC 61672-1:2013, annex E.
    [[nodiscard]] Expected<Estimate> noise(const NoiseSettings& settings) const;

    /// Rms without the mains lines; nothing where none are told apart.
    [[nodiscard]] std::optional<Estimate> without_mains(const NoiseSettings& settings) const;

    /// The quasi-peak reading of noise() with the largest indication of the record beside it.
    struct QuasiPeakNoise {
        Estimate reading;
        double largest = 0.0;  ///< V
    };
    [[nodiscard]] Expected<QuasiPeakNoise> quasi_peak_noise(Band band) const;

    /// One-sided density of what is no line, V rms in 1 Hz, `columns` of them evenly spaced on a
    /// logarithmic axis, each over its own column, with its uncertainty from the number of
    /// independent values in it. Lines that stand twelve times above their neighbours are left out.
    [[nodiscard]] Expected<Curve> density(Band band, int columns) const;

    [[nodiscard]] const Periodogram& periodogram() const { return periodogram_; }
    /// Samples less mains lines.
    [[nodiscard]] WaveformView rest() const { return rest_; }

private:
    [[nodiscard]] Estimate rms(Band band, Weighting weighting) const;
    [[nodiscard]] QuasiPeak through_468(Band band) const;

    std::optional<Expected<Hum>> hum_;
    Waveform rest_;
    Periodogram periodogram_;
};

}  // namespace afterload::analysis
