/// A change of level as it is told: in decibels, down to where nothing is left.
#pragma once

namespace afterload::analysis {

/// Decibels of `ratio`, an amplitude over the one before; -120 dB stands for anything below a
/// millionth.
[[nodiscard]] double level_change_db(double ratio);

}  // namespace afterload::analysis
