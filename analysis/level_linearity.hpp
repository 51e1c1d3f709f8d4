/// Does the gain stay the same from millivolts to full output? Contact film takes it away at small
/// levels, compression at large ones.
#pragma once

#include "analysis/measure.hpp"

#include <string>
#include <vector>

namespace afterload::analysis {

/// A tone and the drive (open-circuit volts rms of the source) that made it.
struct DrivenTone {
    ToneRecord tone;
    VoltsRms drive;
};

struct LinearitySettings {
    VoltsRms reference{1.0};  ///< output level at which the gain counts as 0 dB
    /// How far source and input may be off between two levels, relative, k = 1, and its identity.
    double linearity_u_k1 = 0.0;
    std::string linearity_source;
};

/// Deviation of the gain from that at the reference level, dB, signed: the worst of `tones`. The
/// calibration of drive and volts cancels within one range; between two ranges each one's level
/// counts.
///
/// A point so noisy that its own U is above 0.3 dB counts only by what it deviates beyond U.
/// Details: `deviation_at_0.01_v` and `u_at_0.01_v` (k = 1) for each point by its output,
/// `worst_at_v`, `lowest_v` and `highest_v`: the levels that were told apart from noise.
///
/// Fails   unresolved with no point within 3 dB of the reference, with no second point that
///         stands out of the noise, and with a point that was not driven.
[[nodiscard]] Figure level_linearity(const std::vector<DrivenTone>& tones,
                                     const LinearitySettings& settings);

}  // namespace afterload::analysis
