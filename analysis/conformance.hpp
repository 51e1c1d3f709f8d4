/// How likely it is that the true value keeps its limit.
#pragma once

#include "analysis/figure.hpp"
#include "analysis/rating.hpp"

#include <optional>

namespace afterload::analysis {

/// The probability that the true value lies inside `limit`: with one side Φ((T_U − y)/u), with two
/// Φ((T_U − y)/u) − Φ((T_L − y)/u), on the scale on which the uncertainty is symmetric (scale.hpp).
///
/// 0 to 1. What the rig may have added or hidden has no distribution and is not in it: the verdict
/// looks after that. Empty for a figure without a value or an uncertainty, for a limit without a
/// side, and where the limit was the level driven to: the bench stopped there, not the unit.
/// Source  JCGM 106:2012, 7.3 and 7.4, nothing known before of the unit.
[[nodiscard]] std::optional<double> conformance_probability(const Figure& figure,
                                                            const Limit& limit);

}  // namespace afterload::analysis
