/// Which way a figure went: nearer to what is wanted, or farther from it.
#pragma once

#include "analysis/figure.hpp"
#include "analysis/rating.hpp"

#include <optional>
#include <string_view>

namespace afterload::analysis {

enum class Sense { none, better, worse };
[[nodiscard]] std::string_view name(Sense sense);  ///< "", "better", "worse"

/// Less distortion and more power are better whatever the limit. Of what is neither (gain,
/// response) the limit tells: one-sided by its side; inside a two-sided tolerance one value is as
/// good as another. Without a limit it has no sense.
[[nodiscard]] Sense sense_of(FigureKind kind, double before, double after,
                             const std::optional<Limit>& limit);

}  // namespace afterload::analysis
