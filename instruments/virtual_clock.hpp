/// Virtual time: it moves only while somebody sleeps or records.
#pragma once

#include "instruments/clock.hpp"
#include "instruments/simulated_world.hpp"

namespace afterload::instruments {

class VirtualClock final : public Clock {
public:
    /// `world` outlives the clock.
    explicit VirtualClock(SimulatedWorld& world) : world_{world} {}

    [[nodiscard]] Seconds now() const override { return world_.now(); }
    /// Takes no real time but what the computing needs; whatever else waits on the thread goes
    /// first.
    [[nodiscard]] Task<void> sleep(Seconds duration) override;

private:
    SimulatedWorld& world_;
};

}  // namespace afterload::instruments
