/// The drive that gives the rated output.
///
/// Source  IEC 60268-3: minimum source e.m.f. for the rated distortion-limited output.
#pragma once

#include "analysis/measure.hpp"

#include <variant>

namespace afterload::analysis {

/// The output a sensitivity refers to: watts into the load of the bench's share, or volts.
using RatedOutput = std::variant<Watts, VoltsRms>;

/// Drive (open-circuit volts rms of the source) for `output`, from a record near it at `drive`. The
/// gain is assumed to hold over the last step only, and what it may change there is a line of the
/// budget.
///
/// Units   V rms. Condition `output_level` is `output` where the record does not state one.
/// Fails   unresolved when the record is more than 1 dB away from `output`, when the channel was
///         not driven, and for watts without a load.
[[nodiscard]] Figure input_sensitivity(const ToneRecord& tone, VoltsRms drive,
                                       const RatedOutput& output);

}  // namespace afterload::analysis
