/// Figures, conditions and levels in the words of the bench, as terminal text.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/figure.hpp"

#include <string>
#include <string_view>

namespace afterload::runner {

/// "THD", "output power", "signal to noise".
[[nodiscard]] std::string_view words(FigureKind kind);

/// One condition: "8 Ω", "20 Hz to 20 kHz", "A-weighted"; empty when it is not stated. `key` is one
/// of condition_keys().
[[nodiscard]] std::string condition_words(const Conditions& conditions, std::string_view key);

/// `key` as a person says it: "output level".
[[nodiscard]] std::string key_words(std::string_view key);

/// What belongs beside one figure: level, frequency, orders, bandwidth, weighting, reference,
/// dwell.
[[nodiscard]] std::string figure_conditions(const Figure& figure);

}  // namespace afterload::runner
