/// Where a fit begins: the frequency of a tone or of the mains to a fraction of a cycle over the
/// record.
#pragma once

#include <optional>
#include <span>
#include <vector>

namespace afterload::analysis {

/// Frequency, radians a sample, of the strongest line within `reach` of `nominal`, to a tenth of a
/// cycle over the record. Pieces are demodulated at `nominal`; their phasors are searched in
/// segments that are short enough for the reach and lengthened fourfold at a time, so that a long
/// record at a high frequency loses nothing. Records of under twelve cycles are searched by least
/// squares instead.
///
/// Shape   at least one cycle of `nominal` and 64 samples; 0 < nominal < π.
[[nodiscard]] double coarse_tone(std::span<const double> record, double nominal, double reach);

/// Frequency, radians a sample, of mains lines at `orders` times about `nominal` in a record that
/// the tone has been taken off; searched within ±1 %. Nothing when no line stands out.
[[nodiscard]] std::optional<double> coarse_mains(std::span<const double> record, double nominal,
                                                 const std::vector<int>& orders);

}  // namespace afterload::analysis
