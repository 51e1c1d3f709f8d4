/// Time is passed in: now, and an awaitable sleep. Real time is monotonic; virtual time moves only
/// while somebody sleeps or records.
#pragma once

#include "analysis/quantity.hpp"
#include "instruments/async.hpp"

namespace afterload::instruments {

class Clock {
public:
    Clock() = default;
    Clock(const Clock&) = delete;
    Clock& operator=(const Clock&) = delete;
    virtual ~Clock() = default;

    /// Seconds since the bench was opened. Never goes back.
    [[nodiscard]] virtual Seconds now() const = 0;
    /// Waits. A duration of zero or less returns at once.
    [[nodiscard]] virtual Task<void> sleep(Seconds duration) = 0;
};

}  // namespace afterload::instruments
