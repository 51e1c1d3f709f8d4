/// What the rig itself may have put into a reading, or hidden of it; and "less than", in one place.
///
/// A distortion of the rig adds to the unit's or cancels it, as the phases fall: both counts are
/// the source's plus the input's own, the largest over the levels they were found at. (A loopback
/// bounds neither, for its two halves may cancel.) Noise only adds. Hum shares the mains' phase and
/// does both, and so does a leak between channels.
#pragma once

#include "analysis/figure.hpp"
#include "analysis/measure.hpp"
#include "analysis/noise.hpp"

#include <optional>

namespace afterload::analysis {

/// On the scale of the figure (scale.hpp): volts, or ratios of volts. Absent: the bench is silent.
struct RigPart {
    std::optional<double> added;
    std::optional<double> cancelled;
};

/// Of figures whose rig is in their uncertainty (levels, gains): nothing more, if there is a bench.
[[nodiscard]] RigPart calibrated_away(const BenchShare& bench);

/// Ratio re the fundamental.
[[nodiscard]] RigPart of_distortion(const BenchShare& bench);

/// Volts, of a reading of `volts`: what is left after the rig's own noise is taken off in power
/// would be the unit's; the rest is the rig's. Own noise is found to 20 kHz; a wider meter has more
/// of it.
[[nodiscard]] RigPart of_noise(const BenchShare& bench, double volts,
                               const NoiseSettings& settings);

[[nodiscard]] RigPart of_hum(const BenchShare& bench);

/// Ratio undriven over driven.
[[nodiscard]] RigPart of_leak(const BenchShare& bench);

/// States the rig's part in `figure`, and turns a reading that cannot be told from noise and rig
/// into a bound: value + U + cancelled, one-sided. `fit_bound` is set where the record's own noise
/// alone leaves only a bound (k = 2, in the figure's unit). The reading is kept in the details.
///
/// Shape   figure.value and budget are set; smaller readings are nearer to nothing on the scored
/// scale.
void state_rig(Figure& figure, const RigPart& on_scale, const std::optional<Bound>& fit_bound);

}  // namespace afterload::analysis
