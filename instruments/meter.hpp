/// Slow readings: offset, mains, temperatures, rails, idle current.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/figure.hpp"
#include "instruments/async.hpp"
#include "instruments/failure.hpp"

#include <string>
#include <string_view>

namespace afterload::instruments {

/// What a meter can be asked for. `channel` of read() is `both` where a quantity has no channel.
enum class MeterQuantity {
    dc_offset,         ///< V at the speaker terminals
    mains_voltage,     ///< V rms
    ambient,           ///< degrees Celsius
    heat_sink,         ///< degrees Celsius
    load_temperature,  ///< degrees Celsius
    emitter_voltage,   ///< V across one emitter resistor
    main_rail,         ///< V, positive main rail of the channel
    tone_rail,         ///< V, positive rail of the tone stage's supply
    source_voltage     ///< V rms at the source's output of the channel, nothing else connected
};
[[nodiscard]] std::string_view name(MeterQuantity quantity);  ///< "dc_offset"

struct MeterReading {
    double value = 0.0;  ///< SI units, degrees Celsius for temperatures
    double u_k1 = 0.0;   ///< standard uncertainty of the reading
    std::string source;  ///< identity of the meter
};

class Meter {
public:
    Meter() = default;
    Meter(const Meter&) = delete;
    Meter& operator=(const Meter&) = delete;
    virtual ~Meter() = default;

    [[nodiscard]] virtual std::string identity() const = 0;
    [[nodiscard]] virtual bool can_read(MeterQuantity quantity) const = 0;
    [[nodiscard]] virtual Task<BenchResult<MeterReading>> read(MeterQuantity quantity,
                                                               Channels channel) = 0;
};

}  // namespace afterload::instruments
