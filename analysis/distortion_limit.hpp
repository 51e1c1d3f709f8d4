/// Where the distortion reaches its limit: the output power there, and the drive.
///
/// A search leaves a record just under the limit or just over it. The step from there to the limit
/// follows from how steeply the distortion rises; half of the step stays as its uncertainty.
///
/// Source  IEC 60268-3: distortion-limited output power, overload source e.m.f.
#pragma once

#include "analysis/measure.hpp"

namespace afterload::analysis {

/// What a search knows about its last record.
struct DistortionApproach {
    double limit = 0.01;    ///< THD (ratio) that the figure is stated at
    double thd = 0.0;       ///< of the record; 0: below everything
    double thd_u_k1 = 0.0;  ///< its standard uncertainty
    /// Relative change of the distortion per relative change of level, from the search's last two
    /// steps; 0 where the limit was never approached.
    double level_slope = 0.0;
};

/// The line of a budget that comes from the step between the record and the limit.
inline constexpr const char* step_to_the_limit = "step to the distortion limit";

/// Power of the fundamental, as output_power(), moved to the limit, with condition `thd`. At least
/// so much where the distortion stayed below the limit and the slope does not reach it within 1 dB.
///
/// Fails   unresolved where output_power() is, and where the record lies so far above the limit
///         that a step of 1 dB does not lead back.
[[nodiscard]] Figure distortion_limited_power(const ToneRecord& tone,
                                              const DistortionApproach& approach);

/// The drive (open-circuit volts rms) at which the limit is reached, from the record's `drive`;
/// bound and failures as above.
[[nodiscard]] Figure overload_level(const ToneRecord& tone, VoltsRms drive,
                                    const DistortionApproach& approach);

}  // namespace afterload::analysis
