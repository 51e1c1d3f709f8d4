/// The count of samples held against a monotonic clock: what no phase of a signal can tell.
#pragma once

#include "analysis/quantity.hpp"

#include <cstdint>
#include <optional>

namespace afterload::analysis {

/// Samples come in blocks, some later than others but none before it was taken. So the least
/// lateness of a few seconds is steady, but for the clocks' own difference; a lost buffer lifts it
/// for good, and one that came twice lowers it.
class SampleClock {
public:
    explicit SampleClock(double rate_hz) : rate_hz_{rate_hz} {}

    struct Found {
        std::int64_t frames = 0;  ///< above 0: so many are missing; below: too many
        double since_s = 0.0;     ///< it happened after this moment, s of samples
    };
    /// `frames` had come by `monotonic_s`. Tells what was lost since the window before. Both grow.
    std::optional<Found> add(std::int64_t frames, double monotonic_s);

private:
    static constexpr double window_s = 5.0;
    static constexpr double least_s = 0.02;        ///< a buffer; less is the system's own unrest
    static constexpr double most_drift = 2000e-6;  ///< of the clocks

    double rate_hz_;
    std::optional<double> began_s_;  // of the window
    double least_late_s_ = 0.0;      // in the window
    double first_frame_s_ = 0.0;
    std::optional<double> usual_late_s_;
    double usual_at_s_ = 0.0;
};

}  // namespace afterload::analysis
