/// A moment, shorter than a block, in which a channel stood at another gain.
#pragma once

#include <cstddef>
#include <optional>
#include <span>

namespace afterload::analysis {

struct BriefGain {
    std::size_t first = 0;  ///< sample of it
    std::size_t end = 0;    ///< first sample behind it
    double ratio = 0.0;     ///< gain in it over the gain around it
};

/// Looks in `record` for a stretch that begins and ends in it and in which it is `ratio` times what
/// it is elsewhere against `stimulus`, sample by sample aligned; to `step` samples. `base` is the
/// gain elsewhere. Works on the differences from sample to sample, so that rumble and steps of the
/// mean do not count.
///
/// Nothing when a changed gain does not account for most of what is unusual, or changes it by less
/// than 1 dB: noise, a click, another stretch of the stimulus.
[[nodiscard]] std::optional<BriefGain> brief_gain(std::span<const double> stimulus,
                                                  std::span<const double> record, std::size_t step,
                                                  double base);

}  // namespace afterload::analysis
