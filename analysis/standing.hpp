/// How a reading stands against its limit: inside or outside, how far, and how far it would have to
/// be.
#pragma once

#include "analysis/figure.hpp"
#include "analysis/rating.hpp"
#include "analysis/verdict.hpp"

#include <optional>

namespace afterload::analysis {

/// One side of a limit, and the reading against it. Distances are on the scored scale (scale.hpp).
struct Standing {
    bool upper = true;   ///< an at_most limit, in the figure's unit
    double limit = 0.0;  ///< in the figure's unit
    bool inside = true;
    bool on_target = false;            ///< the limit was the level driven to
    double distance = 0.0;             ///< d
    double uncertainty = 0.0;          ///< U, k = 2
    double rig = 0.0;                  ///< B, on the side that counts
    std::optional<double> rig_stated;  ///< the same in the figure's unit; absent: unknown
    VerdictKind kind = VerdictKind::not_resolvable;  ///< by distance alone
};

/// The side of `limit` that decides for a reading of `value`: the one it is outside of, else the
/// one with the worse verdict, else the nearer. `limit` must state at least one side.
[[nodiscard]] Standing worse_side(const Figure& figure, double value, const Limit& limit);

/// Is the uncertainty larger than the ceiling of the figure's kind allows? Against the limit; far
/// outside, where the reading and its uncertainty outgrow it, against the reading. A gross excess,
/// more than three times U + B, is never above the ceiling.
[[nodiscard]] bool above_ceiling(const Figure& figure, double value, const Standing& at);

}  // namespace afterload::analysis
