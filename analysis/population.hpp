/// One figure over many units of a model: the middle, the spread, and where one unit stands.
#pragma once

#include "analysis/figure.hpp"

#include <cstddef>
#include <optional>
#include <vector>

namespace afterload::analysis {

/// What one unit read: a value, or a bound where only that holds.
struct UnitReading {
    double value = 0.0;  ///< in the figure's unit; of a bound, the bound
    std::optional<Bound::Side> bound;
};

/// A quantile of readings; where a bound stands at it, the quantile is one as well.
struct Quantile {
    double value = 0.0;
    std::optional<Bound::Side> bound;
};

/// The readings of a figure over units, each unit once.
struct Population {
    std::size_t units = 0;
    std::size_t bounds = 0;  ///< of them those that are bounds
    Quantile median;
    Quantile lower;  ///< a quarter of the units reads less
    Quantile upper;  ///< a quarter reads more
    double least = 0.0;
    double greatest = 0.0;
};

/// Fewest units of which a share in per cent says anything.
inline constexpr std::size_t fewest_for_a_share = 10;

/// The population of `readings`.
///
/// A bound stands in the order at its own value: "less than 0.002" is put at 0.002, and a quantile
/// that falls on it, or between it and a neighbour, is a bound as well.
///
/// Units   those of the readings.
/// Shape   any number of readings; none gives a population of no units. Not finite ones are left
/// out. Source  quantiles by linear interpolation of the order statistics at (n - 1) p, definition
/// 7 of
///         Hyndman and Fan, Sample Quantiles in Statistical Packages, Am. Stat. 50 (1996) 361.
[[nodiscard]] Population population(std::vector<UnitReading> readings);

/// How many of `readings` are below `value`, those that equal it counted as half: the share of the
/// model that reads less. Bounds stand where population() puts them.
[[nodiscard]] double below(const std::vector<UnitReading>& readings, double value);

/// Is `value` so far from the middle that the unit is not as its fellows are? More than three times
/// the standard deviation that the middle half of a normal population of this spread would have
/// (quartile distance / 1.349). Never for fewer than fewest_for_a_share units, or where the middle
/// or a quarter is a bound, which has no spread.
[[nodiscard]] bool stands_out(const Population& among, double value);

}  // namespace afterload::analysis
