/// What the figures of one driven channel have in common: their beginning, and the lines of the
/// budget that come from the record, the level, the drive and the load.
#pragma once

#include "analysis/measure.hpp"

#include <string>

namespace afterload::analysis {

/// A figure of `tone`'s channel with the conditions it knows: the fitted frequency, the load.
[[nodiscard]] Figure begin(FigureKind kind, const ToneRecord& tone);

/// The same, when there is no figure: `why` names what would give one.
[[nodiscard]] Figure without_value(Figure figure, std::string why);

/// Standard deviation of the tone's level from the record's noise, relative.
[[nodiscard]] double relative_noise(const ToneFit& fit);

/// Nothing stands out of the noise: the level is a bound and no reading.
[[nodiscard]] bool buried(const ToneFit& fit);

/// Largest amplitude the record allows for a buried tone, k = 2, over the amplitude fitted.
[[nodiscard]] double largest_over_fitted(const ToneFit& fit);

/// What the record's noise leaves of `estimate`, k = 1; of a bound, half the way from the reading
/// to it.
[[nodiscard]] double noise_of(const Estimate& estimate);

/// Adds a line unless it is nothing. `source` may be empty: `otherwise` then stands in its place.
void add_line(Budget& budget, BudgetLine::Kind kind, const std::string& source,
              const char* otherwise, double u_k1);

/// Identity of what only this record has.
inline constexpr const char* record_noise = "record noise";

/// Decibels of a small relative change of a voltage: 20/ln 10.
inline constexpr double decibels_a_neper = 8.685889638065036553;

}  // namespace afterload::analysis
