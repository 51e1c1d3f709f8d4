/// Where in a record a known sound begins: the latency of source, unit and card together.
#pragma once

#include <cstdint>
#include <optional>
#include <span>

namespace afterload::analysis {

/// The place in `record` at which `sound` correlates best, to about a millisecond: the sample at
/// which its first one arrived. Negative where the record began too late, by at most half the
/// sound. Nothing where no place stands out: six times the rms of the correlation elsewhere.
///
/// Averages of two to eight samples are looked through first, where they hold at least half of the
/// sound's energy, in blocks of a few lengths of the sound; then the samples about the place found.
/// Shape   `sound` at least 64 samples.
[[nodiscard]] std::optional<std::int64_t> arrival_of(std::span<const double> sound,
                                                     std::span<const double> record);

}  // namespace afterload::analysis
