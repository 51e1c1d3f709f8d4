/// A figure held against a limit: the six verdicts.
#pragma once

#include "analysis/figure.hpp"
#include "analysis/rating.hpp"

#include <string>
#include <string_view>

namespace afterload::analysis {

enum class VerdictKind {
    pass,
    conditional_pass,
    conditional_fail,
    fail,
    not_resolvable,
    not_comparable
};
[[nodiscard]] std::string_view name(VerdictKind kind);      ///< "conditional_pass"
[[nodiscard]] std::string_view in_words(VerdictKind kind);  ///< "conditional pass"

struct Verdict {
    VerdictKind kind = VerdictKind::not_resolvable;
    double margin = 0.0;    ///< distance to the nearest limit in the figure's unit; inside positive
    double rig = 0.0;       ///< B: what the rig may have added or hidden on the side that counts
    double expanded = 0.0;  ///< U (k = 2) as judged
    std::string reason;     ///< one line; empty for a plain pass or fail that needs none
};

/// Judges `figure` against `rated`.
///
/// Limit L, value y, margin d = |y - L|, expanded uncertainty U (k = 2), B = what the rig may have
/// added (when y is on the bad side) or cancelled (when on the good side). pass and fail need
/// d > U + B; not_resolvable when d <= B, when U exceeds the ceiling of the kind, or when the
/// figure says why it could not be measured; conditional between; not_comparable when a condition
/// is absent and its plausible conventions lie further apart than U + B.
///
/// - d, U and B are compared on the scale on which the uncertainty is symmetric (scale.hpp).
/// - An unknown rig part makes the best verdict conditional. So does a condition that the maker
/// left
///   open and no habit settles, and a meter or a count of harmonics narrower than the rated one.
/// - A bound passes when it is inside the limit, fails when it lies beyond the opposite one (a dead
///   channel's gain), else it is not resolvable.
/// - Two-sided limits: the side with the worse verdict counts, the nearer one when they agree.
/// - A curve without a value is judged at its worst point inside the rated tone range.
/// - A level that was driven to its own limit may lie 0.1 dB under it: a scored target is
/// approached
///   from below and never passed, which is the bench's doing and no shortfall of the unit.
/// - More than three times U + B outside fails whatever the ceiling says.
///
/// A worse rig (larger U, larger parts) never turns another verdict into a pass, and fails no unit
/// that is inside its limit.
///
/// Units   those of the figure; `rated.limit` is in the same unit.
/// Source  ILAC-G8:09/2019, 4.2.3 (non-binary statement with guard band), with the rig's part added
///         on the safe side.
/// `guard` widens the guard band to guard · U + B; it moves readings, no bounds.
[[nodiscard]] Verdict judge(const Figure& figure, const RatedFigure& rated, double guard = 1.0);

/// The guard of a figure from a further record, which is only made where a first one left the
/// verdict open. A unit exactly at its limit is called on the wrong side by a first look in 2.3 of
/// 100 cases (k = 2); a second look with the same guard would bring that above 2.5 on a side, one
/// with 1.5 (k = 3) adds less than 0.1.
inline constexpr double further_guard = 1.5;

/// The largest expanded uncertainty with which a figure of `kind` may still be called, relative to
/// the limit (or a larger reading) for ratios, volts, watts and ohms, in decibels for decibel
/// figures.
[[nodiscard]] double uncertainty_ceiling(FigureKind kind);

}  // namespace afterload::analysis
