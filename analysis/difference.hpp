/// One figure of one unit, before and after: how far apart, how sure that is, and whether it is a
/// change of the unit.
///
/// What both readings have in common drops out: a systematic line of the same identity in both
/// budgets is the same error twice, and only what it does more to one than to the other is left.
/// All else counts from both sides; so does what the rig itself may have put in or hidden, whose
/// sign may have turned in between; and so does setting up again, which was done twice.
#pragma once

#include "analysis/figure.hpp"
#include "analysis/rating.hpp"
#include "analysis/sense.hpp"
#include "analysis/setting_up.hpp"

#include <optional>
#include <string>
#include <string_view>

namespace afterload::analysis {

enum class ChangeKind {
    none,            ///< no change larger than the uncertainty
    changed,         ///< larger than U and the rig's part together
    conditional,     ///< larger than U; what the rig did is not known
    not_resolvable,  ///< the rig could explain it, or a change that matters could not be seen
    not_comparable   ///< measured under other conditions
};
[[nodiscard]] std::string_view name(ChangeKind kind);      ///< "not_resolvable"
[[nodiscard]] std::string_view in_words(ChangeKind kind);  ///< "not resolvable"

struct Difference {
    ChangeKind kind = ChangeKind::not_comparable;
    std::optional<double> value;    ///< after less before, in the figure's unit
    std::optional<Bound> bound;     ///< where a side is a bound: the change is at least, or at most
    Budget budget;                  ///< of `value`, in the figure's unit
    double coverage = 2.0;          ///< k: 2, more for few repeats or the worst of several points
    double expanded = 0.0;          ///< U = k · u, in the figure's unit
    double rig = 0.0;               ///< the part of both runs' rig in the direction of the change
    double cancelled = 0.0;         ///< standard uncertainty that both share and that dropped out
    std::optional<double> before;   ///< of a curve: at the point that is compared
    std::optional<double> after;    ///< likewise
    std::optional<Hertz> worst_at;  ///< of a curve
    Sense sense = Sense::none;      ///< of a change
    std::string reason;  ///< one line; why it cannot be told, or what a bound leaves open
};

/// What two figures have in common beside themselves.
struct Between {
    bool same_rig = true;        ///< false: nothing is shared, whatever its name
    std::optional<Repeats> own;  ///< the shop's own scatter in place of the table
    std::optional<Limit> limit;  ///< against which a change matters, and its sense is told
};

/// Compares two figures of one kind that were measured alike (likeness.hpp).
///
/// d = |after - before| on the scale on which the uncertainty is symmetric (scale.hpp). A change is
/// `changed` when d > U + B, where U = k · u of the difference and B is what the rig may have added
/// to the larger reading and hidden of the smaller one. `not_resolvable` when d <= B though above
/// U, when U + B exceeds the ceiling of the kind (against the limit or the larger reading), or when
/// a figure says why it was not measured.
///
/// - Systematic lines of one identity: |u_after - u_before| (correlation 1). Where the sign of what
///   a source does is not the figure's to know (its slope with level, of distortions) they are
///   added, the worst that a correlation can do. All other lines: root of the sum of squares.
/// - A bound is the interval from nothing (or from minus infinity, for signed figures) to itself, a
///   reading that of U and the rig's part around it. The change is then at least the gap between
///   the two; where they overlap none was seen if what they leave open is below the ceiling, else
///   it is not resolvable.
/// - Curves in decibels are compared point by point; the point that counts is the one with the
///   largest |difference| over its uncertainty, and k is that of the largest of so many.
/// - `polarity` and `channel_identity` change when they differ.
///
/// Shape   the kinds are equal.
/// Source  GUM (JCGM 100:2008) 5.2.2 for what is shared, G.4.1 for k.
[[nodiscard]] Difference difference(const Figure& before, const Figure& after,
                                    const Between& between = {});

}  // namespace afterload::analysis
