/// Is a capture fit to judge? Clipping, gaps, repeats, silence, an unsettled level, NaN.
#pragma once

#include "analysis/capture_fault.hpp"
#include "analysis/quantity.hpp"
#include "analysis/waveform.hpp"

#include <optional>
#include <vector>

namespace afterload::analysis {

/// What a capture was meant to hold.
struct Expectation {
    std::optional<Hertz> tone;  ///< nominal frequency of the tone; absent: another signal, or none
    bool silence = false;       ///< nothing plays: what is heard is noise
    /// A second tone beside it: the pair is then looked at through tones that stand alone.
    std::optional<Hertz> beside = std::nullopt;
    std::optional<Hertz> mains;
    std::optional<VoltsPeak> full_scale;  ///< to see the converter's ends; absent: not looked for
    Seconds least;                        ///< shorter is `too_short`
};

/// Faults of one channel's samples, in the order of their start.
///
/// gap, repeat: the phase of the tone jumps while its level stays; the slip in whole samples is in
/// the
///   note. Needs a tone; a slip of one sample is seen when it turns the tone by more than the
///   noise. Where silence is expected: the same sample for 20 ms and more amid noise.
/// clipped: two or more samples together at the end of the converter's range.
/// unsettled: the tone's level in the last quarter differs from the first by more than 0.02 dB and
///   four times its noise.
/// silent: no tone where one was asked for; all samples equal.
/// not_finite: NaN or infinity.
[[nodiscard]] std::vector<CaptureFault> faults_of(WaveformView record, const Expectation& expected);

/// The same over all channels: a timeline slip common to all channels is reported once, channel 0.
[[nodiscard]] std::vector<CaptureFault> faults_of_all(const std::vector<WaveformView>& channels,
                                                      const Expectation& expected);

/// A level event inside a record: the level of the tone moved while the timeline stayed intact.
struct LevelEvent {
    int channel = 0;  ///< from 1; 0 all
    Seconds start;
    Seconds length;
    double change_db = 0.0;
};
/// Level steps and dropouts of at least 0.3 dB for at least 5 ms (tones of 200 Hz and more; at
/// least one period below). Channels that move together are one event with channel 0.
[[nodiscard]] std::vector<LevelEvent> level_events(const std::vector<WaveformView>& channels,
                                                   Hertz nominal);

}  // namespace afterload::analysis
