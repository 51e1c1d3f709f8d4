/// The replay curve of a phono stage, and how far a measured response is from it.
///
/// Source  IEC 60098: time constants 3180, 318 and 75 us; its amendment of 1976 adds a high-pass of
///         7950 us (20.02 Hz). The two curves are 3.0 dB apart at 20 Hz, 0.65 dB at 50 Hz.
#pragma once

#include "analysis/figure.hpp"

#include <string_view>

namespace afterload::analysis {

enum class PhonoCurve { iec_60098, iec_60098_amended };

/// "3180/318/75 us", "3180/318/75/7950 us": the condition `curve` of an equalisation error.
[[nodiscard]] std::string_view name(PhonoCurve curve);

/// Replay gain at `frequency` (above zero) re 1 kHz.
[[nodiscard]] Gain replay_gain(PhonoCurve curve, Hertz frequency);

/// The response minus the curve, both re the response's reference frequency, dB, signed: the value
/// is the worst point inside `range`, the curve holds every point. A point at an edge of the range
/// may be played 2 % off it. Where several points may be the worst one, its uncertainty covers that
/// the largest reading was picked.
///
/// Details: `worst_at_hz`, and `worst_re_other_curve` with `other_worst_at_hz`: the same against
/// the other curve, for a sheet that does not say which it means.
///
/// Fails   unresolved where `response` is, and with no point inside `range`.
[[nodiscard]] Figure equalisation_error(const Figure& response, PhonoCurve curve, Band range);

}  // namespace afterload::analysis
