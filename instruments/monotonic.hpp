/// The machine's monotonic clock, which no change of the time of day moves.
#pragma once

#include "analysis/quantity.hpp"

namespace afterload::instruments {

/// Seconds since some moment before the process began; the same moment for all processes of a
/// machine, so that stamps of two of them can be compared.
[[nodiscard]] Seconds monotonic_now();

}  // namespace afterload::instruments
