/// The strongest tone of a record whose signal is not known beforehand.
#pragma once

#include "analysis/failure.hpp"
#include "analysis/spectrum.hpp"
#include "analysis/waveform.hpp"
#include "analysis/window.hpp"

namespace afterload::analysis {

/// The window of tone_spectrum(): its side lobes hide nothing that stands 20 dB above the rest.
inline constexpr WindowKind tone_window = WindowKind::blackman_harris_4;

/// The spectrum in which tones of unknown frequency are looked for: of the middle 65536 samples at
/// the most, where a bin is below 3 Hz at 192 kHz.
///
/// Fails   as spectrum().
[[nodiscard]] Expected<Spectrum> tone_spectrum(WaveformView record);

/// Frequency of the largest line in `band`, from a windowed transform: good to a bin, which is
/// where fit_tone() takes over. Only the middle of a long record is looked at.
///
/// Shape   at least 64 samples.
/// Fails   record_too_short; no_tone when nothing stands 20 dB above the mean of the rest.
[[nodiscard]] Expected<Hertz> dominant_tone(WaveformView record, Band band);

}  // namespace afterload::analysis
