/// What a bench file says about one channel through one range, in the words of the analysis.
#pragma once

#include "analysis/measure.hpp"
#include "runner/papers/driven_as.hpp"
#include "sequences/bench_file.hpp"

#include <optional>

namespace afterload::runner {

/// The card's source, or the generator beside it where that played the record.
[[nodiscard]] const sequences::SourceEntry& source_that_played(const sequences::BenchFile& bench,
                                                               const DrivenAs& driven);

/// `channel` is 1 (left) or 2 (right), `resistance` as for load_of(). `source` and `range` must be
/// the bench's own.
[[nodiscard]] analysis::BenchShare bench_share(const sequences::BenchFile& bench,
                                               const sequences::SourceEntry& source,
                                               const sequences::RangeEntry& range, int channel,
                                               std::optional<Ohms> resistance);

/// The range called `name`; null when the bench has none.
[[nodiscard]] const sequences::RangeEntry* find_range(const sequences::BenchFile& bench,
                                                      const std::string& name);

/// The most sensitive range that holds `peak` at the unit's terminals with a quarter to spare and
/// is safe at twice that; null when none does.
[[nodiscard]] const sequences::RangeEntry* range_for(const sequences::BenchFile& bench,
                                                     VoltsPeak peak);

/// The range with the highest safe voltage: where the switch rests.
[[nodiscard]] const sequences::RangeEntry& resting_range(const sequences::BenchFile& bench);

/// V rms that the output may reach on `range` into `load`: the house's limit, and what the range is
/// safe for.
[[nodiscard]] double largest_output(const sequences::BenchFile& bench, Ohms load,
                                    const std::string& range);

/// The load of channel 1 or 2 that is of `resistance`, the bench's first where none is said; null
/// when the bench has none.
[[nodiscard]] const sequences::LoadEntry* load_of(const sequences::BenchFile& bench, int channel,
                                                  std::optional<Ohms> resistance);

}  // namespace afterload::runner
