/// Is a capture of a multitone fit to judge? Slips of the sample count and a level that still
/// moves, seen through several tones in short pieces.
#pragma once

#include "analysis/capture_fault.hpp"
#include "analysis/quantity.hpp"
#include "analysis/waveform.hpp"

#include <vector>

namespace afterload::analysis {

/// gap, repeat: from one piece to the next all tones turn as a delay by whole samples turns them;
///   found to about a piece (20 to 60 ms), slips of up to 8192 samples, known
///   modulo the period of the channel's tones: the smallest that fits is meant.
/// unsettled: the level of the tones in the last quarter differs from the first by more than
///   0.02 dB and four times its scatter.
/// Nothing is said of a record shorter than eight pieces, or of tones too weak to tell.
///
/// `frequencies` of the tones that this channel carries, rising.
[[nodiscard]] std::vector<CaptureFault> multitone_faults(WaveformView record,
                                                         const std::vector<Hertz>& frequencies);

/// The same over all channels; `tones[c]` are those that channel c of the record carries, none
/// where it only leaks. A slip that every channel with tones shows is the card's and said once,
/// channel 0.
///
/// silent: channels there are, and none of them carries a tone.
[[nodiscard]] std::vector<CaptureFault> multitone_faults_of_all(
    const std::vector<WaveformView>& channels, const std::vector<std::vector<Hertz>>& tones);

}  // namespace afterload::analysis
