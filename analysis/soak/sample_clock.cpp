#include "analysis/soak/sample_clock.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {

std::optional<SampleClock::Found> SampleClock::add(std::int64_t frames, double monotonic_s) {
    const double taken_s = static_cast<double>(frames) / rate_hz_;
    const double late_s = monotonic_s - taken_s;
    if (!began_s_) {
        began_s_ = monotonic_s;
        least_late_s_ = late_s;
        first_frame_s_ = taken_s;
    }
    least_late_s_ = std::min(least_late_s_, late_s);
    if (monotonic_s - *began_s_ < window_s) {
        return std::nullopt;
    }
    std::optional<Found> found;
    if (usual_late_s_) {
        const double moved = least_late_s_ - *usual_late_s_;
        const double allowed = least_s + most_drift * (monotonic_s - usual_at_s_);
        if (std::abs(moved) > allowed) {
            found = Found{std::lround(moved * rate_hz_), first_frame_s_};
        }
    }
    usual_late_s_ = least_late_s_;
    usual_at_s_ = monotonic_s;
    began_s_.reset();
    return found;
}

}  // namespace afterload::analysis
