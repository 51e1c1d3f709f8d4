/// Is a record fit to judge, for what was played while it was made?
#pragma once

#include "analysis/capture_fault.hpp"
#include "analysis/waveform.hpp"
#include "runner/papers/driven_as.hpp"

#include <array>
#include <optional>
#include <vector>

namespace afterload::runner {

/// What a record was meant to hold.
struct RecordExpected {
    const DrivenAs& driven;
    std::array<bool, 2> seen{true, true};  ///< channels that show what was played
    std::optional<Hertz> mains;
    std::array<VoltsPeak, 2> full_scale;  ///< of the converter, at the unit's terminals
    Seconds least;                        ///< a shorter record is short
};

/// Faults of both channels, numbered from 1; 0 is both. Clipping, silence, NaN and a short record
/// are seen under any signal. Lost and doubled samples are seen by what is played: through the
/// phase of a tone, the beat or the tones of a pair, the tones of a multitone together, the second
/// pilot of a sweep. Silence and a rising tone tell nothing of the timeline.
[[nodiscard]] std::vector<CaptureFault> record_faults(const std::array<WaveformView, 2>& channels,
                                                      const RecordExpected& expected);

}  // namespace afterload::runner
