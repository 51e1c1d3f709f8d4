/// Real time: the machine's monotonic clock.
#pragma once

#include "instruments/clock.hpp"
#include "instruments/monotonic.hpp"

namespace afterload::instruments {

class SteadyClock final : public Clock {
public:
    [[nodiscard]] Seconds now() const override;
    [[nodiscard]] Task<void> sleep(Seconds duration) override;

private:
    Seconds opened_ = monotonic_now();
};

}  // namespace afterload::instruments
