/// Real time: the machine's monotonic clock.
#pragma once

#include "instruments/clock.hpp"

#include <chrono>

namespace afterload::instruments {

class SteadyClock final : public Clock {
public:
    [[nodiscard]] Seconds now() const override;
    [[nodiscard]] Task<void> sleep(Seconds duration) override;

private:
    std::chrono::steady_clock::time_point opened_ = std::chrono::steady_clock::now();
};

}  // namespace afterload::instruments
