/// One tone of a record that holds two, as a waveform: what checks of a single tone can look at.
#pragma once

#include "analysis/quantity.hpp"
#include "analysis/waveform.hpp"

#include <cstddef>

namespace afterload::analysis {

struct IsolatedTone {
    Waveform waveform;
    std::size_t first = 0;  ///< sample of the record that is its first
};

/// What `record` holds within `half_width` of `tone`, by one transform there and back with a cosine
/// edge; the first and the last 2/half_width are left out, where the record's ends ring. A slip of
/// the timeline stays a slip, blurred over 1/half_width. Empty when nothing is left.
[[nodiscard]] IsolatedTone isolated_tone(WaveformView record, Hertz tone, Hertz half_width);

}  // namespace afterload::analysis
