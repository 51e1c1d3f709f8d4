/// Seconds as the ticks of a timer.
#pragma once

#include "analysis/quantity.hpp"

#include <chrono>

namespace afterload::instruments {

[[nodiscard]] inline std::chrono::nanoseconds ticks(Seconds time) {
    return std::chrono::duration_cast<std::chrono::nanoseconds>(
        std::chrono::duration<double>{time.in<Seconds>()});
}

}  // namespace afterload::instruments
