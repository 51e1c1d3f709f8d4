/// What the controls do: how far a tone control reaches, and how alike the two tracks of a volume
/// control are.
#pragma once

#include "analysis/level_linearity.hpp"

#include <string>
#include <vector>

namespace afterload::analysis {

/// Boost (or cut) of a tone control at its end less the `rated` one, dB: with +10 dB rated 9 dB
/// read as -1, and with -10 dB rated -9 dB read as +1. Both records at one frequency, on one range;
/// the drives may differ by what the settings need.
///
/// Details: `range_db`, the boost or cut itself.
/// Fails   unresolved for two different tones, a tone in the noise, a record that was not driven.
[[nodiscard]] Figure tone_range_error(const DrivenTone& at_end, const DrivenTone& flat, Gain rated);

/// A channel balance at a mark of the volume control.
struct VolumeMark {
    std::string mark;  ///< "9 o'clock", "-40 dB"
    Figure balance;    ///< a channel_balance
};

/// Balance at each mark less that at maximum, dB, signed: the worst of them. What sets the two
/// inputs apart cancels as far as both figures name the same source.
///
/// Details: `balance_change_at_MARK` and `u_at_MARK` (k = 1) for each; condition `volume` is the
/// worst mark.
/// Fails   unresolved with no mark, and where a balance is unresolved or a bound: names the mark.
[[nodiscard]] Figure volume_tracking(const Figure& at_maximum,
                                     const std::vector<VolumeMark>& marks);

}  // namespace afterload::analysis
