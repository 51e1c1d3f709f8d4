/// A line at a frequency that is known from elsewhere: how much of it a record holds, be it buried
/// in noise. For the undriven channel, and for a driven one that gives nothing.
#pragma once

#include "analysis/failure.hpp"
#include "analysis/tone.hpp"
#include "analysis/waveform.hpp"

namespace afterload::analysis {

/// Amplitude and phase of the line at `frequency` in `record`, fitted together with DC under the
/// weight with cosine ends. The expected amplitude of noise alone is not taken off: below about two
/// sigma the line is a bound and not a reading.
///
/// Units   volts peak; phase in radians at the middle of the record.
/// Shape   at least two periods and 64 samples.
/// Fails   record_too_short, out_of_range.
/// Source  IEEE Std 1057 three-parameter fit (known frequency).
[[nodiscard]] Expected<FittedLine> line_at(WaveformView record, Hertz frequency);

/// The same as a fit without harmonics, for the figures of a channel in which no tone stands out.
[[nodiscard]] Expected<ToneFit> fit_at(WaveformView record, Hertz frequency);

}  // namespace afterload::analysis
