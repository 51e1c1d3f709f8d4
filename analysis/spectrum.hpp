/// Amplitude spectrum of a record through a window, for plots and for checks against fits.
#pragma once

#include "analysis/failure.hpp"
#include "analysis/quantity.hpp"
#include "analysis/waveform.hpp"
#include "analysis/window.hpp"

#include <cstddef>
#include <vector>

namespace afterload::analysis {

struct SpectrumSettings {
    WindowKind window = WindowKind::hft248d;
    Frames segment;        ///< length of the averaged pieces; 0: the whole record at once
    double overlap = 0.5;  ///< share of a piece that the next one repeats, 0 … 0.95
};

/// A line's rms voltage stands at its bin: volts_rms[k] at k · bin_width. The value of a line
/// between two bins falls short by the window's scalloping.
struct Spectrum {
    std::vector<double> volts_rms;  ///< bins 0 … N/2; bin 0 is the magnitude of the mean
    Hertz bin_width;
    double noise_bandwidth_bins = 1.0;  ///< of the window
    int averages = 1;

    /// Noise density at bin k in V rms / √Hz.
    [[nodiscard]] double density(std::size_t k) const;
};

/// Spectrum of `record`: √(2|X|²/(Σw)²), powers averaged over the pieces.
///
/// Units   V rms a line.
/// Shape   at least 64 samples; pieces are cut to a good length (transform.hpp).
/// Fails   record_too_short.
/// Source  Heinzel, Rüdiger, Schilling 2002, section 9.
[[nodiscard]] Expected<Spectrum> spectrum(WaveformView record, const SpectrumSettings& settings);

}  // namespace afterload::analysis
