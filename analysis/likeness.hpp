/// Whether two figures speak of the same thing, and were measured alike.
#pragma once

#include "analysis/figure.hpp"

#include <string_view>
#include <vector>

namespace afterload::analysis {

/// Do both name the same point: kind, channel, pair, level, frequency and what else tells one row
/// of a sheet from another? A curve is one point, whatever its worst frequency is.
[[nodiscard]] bool same_point(const Figure& before, const Figure& after);

/// Keys of the conditions (condition_keys()) that make a comparison of the two unfair, in that
/// order; empty where like stands beside like. A condition that only one of them states counts,
/// except for what a bench may not be able to tell: mains, room, warm-up, dwell, preconditioning,
/// termination and source impedance.
///
/// - load and source impedance within 5 %, mains within 10 %, room within 10 degrees, edges of a
/// band
///   within 2 %, levels within 1 %; a dwell or warm-up at most twice the other
/// - everything else equal
[[nodiscard]] std::vector<std::string_view> unlike_conditions(const Figure& before,
                                                              const Figure& after);

}  // namespace afterload::analysis
