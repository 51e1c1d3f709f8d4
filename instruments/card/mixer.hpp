/// The mixer of a sound card: what stands between its numbers and its volts.
#pragma once

#include <string>
#include <vector>

namespace afterload::instruments {

/// A control and its values, left to right, as the mixer says them: raw volumes, on and off, the
/// name of what is selected.
struct MixerState {
    std::string control;  ///< "Master Playback Volume", "Mic Capture Switch"
    std::string values;   ///< "65536 65536", "on on"
    bool operator==(const MixerState&) const = default;
};

/// Every control of the mixer of `device`, a PCM device as the bench file names it:
/// "hw:CARD=Interface,DEV=0" has the mixer "hw:CARD=Interface", any other name its own. Empty where
/// the card has none.
[[nodiscard]] std::vector<MixerState> mixer_of(const std::string& device);

}  // namespace afterload::instruments
