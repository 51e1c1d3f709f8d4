/// The largest output at a stated distortion: a search on drive that comes from below, each channel
/// with its own drive, both driven throughout.
#pragma once

#include "runner/level_finder.hpp"

#include <array>
#include <limits>

namespace afterload::runner {

/// Looks and holds of a search at the most, once the target was reached.
inline constexpr int most_search_looks = 120;
inline constexpr int most_search_holds = 30;
inline constexpr Seconds search_look{0.2};

struct PowerSearchRequest {
    LevelRequest level;  ///< target: the rated output; 0 for a channel that is not driven
    double thd = 0.001;  ///< ratio that must not be passed
    std::array<double, 2> at_most{0.0, 0.0};  ///< V rms never to be passed
    /// Drive never to be passed, V rms; where it is what ends the search, an input's overload is
    /// looked for and the target is only where it begins.
    double drive_at_most = std::numeric_limits<double>::infinity();
    Seconds dwell;  ///< the level that was found is held this long before it counts
};

/// Reaches the target; raises by 0.25 dB (far below an overload by 3 dB) while the distortion stays
/// within `thd`, up to `at_most`;
/// or, where the target itself distorts more, comes down by 1 dB at a time to 1 % of its power.
/// Then halves the step five times (to about 0.01 dB), holds the level for the dwell, looks again,
/// and gives way by 0.1 dB at a time when the distortion has risen meanwhile (sagging rails, heat).
///
/// Leaves the drive on. `reached` says whether a level within the distortion was found.
[[nodiscard]] instruments::Task<RunResult<LevelReached>> largest_at_distortion(
    Driver& driver, LevelFinder& finder, PowerSearchRequest request);

}  // namespace afterload::runner
