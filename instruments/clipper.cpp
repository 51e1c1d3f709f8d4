#include "instruments/clipper.hpp"

#include "instruments/wide.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>

namespace afterload::instruments {

namespace {

/// Mean of max(x, 0) along the straight line from `a` to `b`.
double mean_above_zero(double a, double b) {
    if (a <= 0.0 && b <= 0.0) {
        return 0.0;
    }
    if (a >= 0.0 && b >= 0.0) {
        return 0.5 * (a + b);
    }
    const double top = std::max(a, b);
    return 0.5 * top * top / std::abs(b - a);
}

struct Extremes {
    std::array<double, 2> largest;
    std::array<double, 2> smallest;
};

AFTERLOAD_WIDE
Extremes extremes(const double* frames, std::size_t count) {
    Wide largest{-1e300, -1e300, -1e300, -1e300};
    Wide smallest{1e300, 1e300, 1e300, 1e300};
    std::size_t i = 0;
    for (; i + 2 <= count; i += 2) {
        Wide x;
        std::memcpy(&x, frames + 2 * i, sizeof x);
        largest = x > largest ? x : largest;
        smallest = x < smallest ? x : smallest;
    }
    Extremes found{{std::max(largest[0], largest[2]), std::max(largest[1], largest[3])},
                   {std::min(smallest[0], smallest[2]), std::min(smallest[1], smallest[3])}};
    if (i < count) {
        for (std::size_t c = 0; c < 2; ++c) {
            found.largest[c] = std::max(found.largest[c], frames[2 * i + c]);
            found.smallest[c] = std::min(found.smallest[c], frames[2 * i + c]);
        }
    }
    return found;
}

}  // namespace

void Clipper::process(std::span<double> frames, const ClipLimits& at_end) {
    if (!started_) {
        limits_ = at_end;
        started_ = true;
    }
    const Extremes found = extremes(frames.data(), frames.size() / 2);
    for (std::size_t c = 0; c < 2; ++c) {
        const bool above = found.largest[c] > std::min(limits_.upper[c], at_end.upper[c]);
        const bool below = found.smallest[c] < std::max(limits_.lower[c], at_end.lower[c]);
        // What was beyond a limit at the end of the last call still has to be worked off.
        if (above || average_[2 * c] > 0.0) {
            clip_side(frames, c, 1.0, limits_.upper[c], at_end.upper[c]);
        }
        if (below || average_[2 * c + 1] > 0.0) {
            clip_side(frames, c, -1.0, -limits_.lower[c], -at_end.lower[c]);
        }
    }
    limits_ = at_end;
}

void Clipper::clip_side(std::span<double> frames, std::size_t channel, double sign, double from,
                        double to) {
    const std::size_t count = frames.size() / 2 - 1;
    const double step = (to - from) / static_cast<double>(count);
    const std::size_t state = 2 * channel + (sign > 0.0 ? 0 : 1);
    double average = average_[state];
    double excess = sign * frames[channel] - from;
    for (std::size_t i = 0; i < count; ++i) {
        const double limit = from + step * static_cast<double>(i + 1);
        const double next = sign * frames[2 * (i + 1) + channel] - limit;
        const double next_average = mean_above_zero(excess, next);
        frames[2 * i + channel] -= sign * 0.5 * (average + next_average);
        average = next_average;
        excess = next;
    }
    average_[state] = average;
}

}  // namespace afterload::instruments
