/// Which half of a wave clips first, and how far apart the rails are that it implies.
#pragma once

#include "analysis/measure.hpp"

namespace afterload::analysis {

/// Positive plateau over negative, from a tone driven past the onset of clipping (1 % of distortion
/// is far enough). Sine and DC are fitted to the steep middle of the swing, so that the shift which
/// clipping and a coupling capacitor make together is taken out; a plateau is the mean within 5
/// degrees of the crest. A half counts as clipped when it falls short of the fitted sine by more
/// than 0.5 % and three times its scatter.
///
/// Where only one half clips the ratio is a bound, for the other rail is still further away.
/// Details: `positive_peak_v`, `negative_peak_v` (plateau, or the crest of a half that does not
/// clip), `rail_difference_v` (positive less negative), `first_half`: +1 positive, -1 negative, 0
/// both within the uncertainty, `positive_clips`, `negative_clips` (1 or 0), `reading` of a bound.
/// The uncertainty is the scatter over groups of cycles. A second harmonic of 0.1 % below clipping
/// moves the ratio by 0.4 %.
///
/// Shape   the record of the fit; at least 24 cycles, and 36 samples to a cycle.
/// Fails   unresolved when the record is shorter or the tone higher, when it clips below half of
///         its swing, and when neither half clips.
[[nodiscard]] Figure clipping_symmetry(const ToneRecord& tone);

}  // namespace afterload::analysis
