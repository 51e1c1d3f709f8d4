/// The A curve.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/level.hpp"
#include "analysis/quantity.hpp"

namespace afterload::analysis {

/// Gain of the A-weighting at `frequency`, 0 dB at 1 kHz; minus infinity at 0 Hz.
/// Source  IEC 61672-1:2013, Annex E.
[[nodiscard]] Gain a_weighting(Hertz frequency);

/// Power gain of `weighting` at `frequency`: 1 where nothing is weighted.
[[nodiscard]] PowerRatio weight_of(Weighting weighting, Hertz frequency);

}  // namespace afterload::analysis
