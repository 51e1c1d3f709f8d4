/// A bench put together from instruments of any kind.
#pragma once

#include "instruments/bench.hpp"

#include <memory>
#include <utility>

namespace afterload::instruments {

/// All but the meter, the generator and the mains switch must be there. Taken down in the reverse
/// order.
struct BenchParts {
    std::shared_ptr<void> shared;  ///< what several of them stand on; goes last
    std::unique_ptr<Clock> clock;
    std::unique_ptr<Load> load;
    std::unique_ptr<RangeSwitch> range_switch;
    std::unique_ptr<Meter> meter;
    std::unique_ptr<Capture> capture;
    std::unique_ptr<Source> source;
    std::unique_ptr<Source> generator;          ///< beside a card that plays, or none
    std::unique_ptr<MainsSwitch> mains_switch;  ///< or none
};

class AssembledBench final : public Bench {
public:
    explicit AssembledBench(BenchParts parts) : parts_{std::move(parts)} {}

    [[nodiscard]] Clock& clock() override { return *parts_.clock; }
    [[nodiscard]] Source& source() override { return *parts_.source; }
    [[nodiscard]] Source* generator() override { return parts_.generator.get(); }
    [[nodiscard]] Capture& capture() override { return *parts_.capture; }
    [[nodiscard]] Load& load() override { return *parts_.load; }
    [[nodiscard]] RangeSwitch& range_switch() override { return *parts_.range_switch; }
    [[nodiscard]] Meter* meter() override { return parts_.meter.get(); }
    [[nodiscard]] Hands* hands() override { return nullptr; }
    [[nodiscard]] MainsSwitch* mains_switch() override { return parts_.mains_switch.get(); }

private:
    BenchParts parts_;
};

}  // namespace afterload::instruments
