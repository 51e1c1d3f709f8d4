/// The strongest tone of a record whose signal is not known beforehand.
#pragma once

#include "analysis/failure.hpp"
#include "analysis/waveform.hpp"

namespace afterload::analysis {

/// Frequency of the largest line in `band`, from a windowed transform: good to a bin, which is
/// where fit_tone() takes over. Only the middle of a long record is looked at.
///
/// Shape   at least 64 samples.
/// Fails   record_too_short; no_tone when nothing stands 20 dB above the mean of the rest.
[[nodiscard]] Expected<Hertz> dominant_tone(WaveformView record, Band band);

}  // namespace afterload::analysis
