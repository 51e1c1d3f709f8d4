/// Slow readings: offset, mains, temperatures, rails, idle current.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/figure.hpp"
#include "instruments/async.hpp"
#include "instruments/failure.hpp"

#include <string>
#include <string_view>
#include <vector>

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
    mains_power,       ///< W that the unit takes from the mains
    tone_rail,         ///< V, positive rail of the tone stage's supply
    source_voltage,    ///< V rms at the source's output of the channel, nothing else connected
    load_resistance    ///< ohm of the channel's load, off the unit
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
    /// The single meters of a group, each with its own word on a quantity; of any other, itself.
    [[nodiscard]] virtual std::vector<Meter*> members() { return {this}; }
    /// Has it a reading of its own for each channel, where the quantity has channels? A sensor on a
    /// common heat sink has not.
    [[nodiscard]] virtual bool by_channel() const { return true; }
    [[nodiscard]] virtual Task<BenchResult<MeterReading>> read(MeterQuantity quantity,
                                                               Channels channel) = 0;
};

}  // namespace afterload::instruments
