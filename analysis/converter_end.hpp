/// Where a converter stood at the end of its range.
#pragma once

#include "analysis/watch_event.hpp"

#include <cstdint>
#include <span>
#include <vector>

namespace afterload::analysis {

/// Collects the samples of one channel that stand at the end: two or more together with one sign,
/// for a tone that only just reaches the end is not clipped. What lies within 0.1 s is one event.
class ConverterEnd {
public:
    ConverterEnd(int channel, double full_scale, double rate_hz);

    /// The end of the range is the last step of 16 bits or nearer, volts.
    [[nodiscard]] double end() const { return end_; }

    /// Looks through `samples`, which begin at `first`. Samples that cannot reach the end may be
    /// left out.
    void look(std::span<const double> samples, std::int64_t first, std::vector<WatchEvent>& events);
    void finish(std::vector<WatchEvent>& events);

private:
    int channel_;
    double rate_hz_;
    double end_;
    std::int64_t last_ = -2;  // the last sample at the end, and how many before it stood there too
    int sign_ = 0;
    std::int64_t run_ = 0;
    std::int64_t first_ = 0;  // of the event that is open
    std::int64_t until_ = -1;
    std::int64_t count_ = 0;
};

}  // namespace afterload::analysis
