/// A rated figure in one line, as it was understood.
#pragma once

#include "analysis/rating.hpp"

#include <string>

namespace afterload::runner {

/// "output power at least 45 W: 8 Ω, both channels driven, THD 0.05 %; page 3".
[[nodiscard]] std::string rating_words(const RatedFigure& rated);

}  // namespace afterload::runner
