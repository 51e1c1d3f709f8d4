#include "instruments/meter_group.hpp"

namespace afterload::instruments {

Meter* MeterGroup::of(MeterQuantity quantity) const {
    for (const auto& meter : meters_) {
        if (meter->can_read(quantity)) {
            return meter.get();
        }
    }
    return nullptr;
}

Task<BenchResult<MeterReading>> MeterGroup::read(MeterQuantity quantity, Channels channel) {
    Meter* const meter = of(quantity);
    if (meter == nullptr) {
        co_return tl::unexpected<BenchFailure>(
            BenchFailure{BenchFailure::Kind::refused, identity(),
                         "read " + std::string{instruments::name(quantity)},
                         "no meter of the bench reads it", Seconds{0.0}});
    }
    auto reading = co_await meter->read(quantity, channel);
    co_return reading;
}

}  // namespace afterload::instruments
