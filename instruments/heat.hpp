/// The slow states of the simulated unit and its loads: heat-sinks, bias, offset, load resistors.
#pragma once

#include "instruments/unit_parameters.hpp"

#include <array>

namespace afterload::instruments {

class Heat {
public:
    /// `warm`: settled at idle; otherwise switched on ten seconds ago.
    Heat(const UnitParameters& unit, bool warm);

    /// Moves on by `seconds` with so many watts into each heat-sink and each load. Exact for
    /// constant power, so that hours may pass in one step.
    void advance(double seconds, const UnitParameters& unit,
                 const std::array<double, 2>& sink_watts, const std::array<double, 2>& load_watts,
                 const std::array<double, 2>& load_rise_per_watt);

    /// Kelvin above the room.
    [[nodiscard]] double sink_rise(std::size_t channel) const { return sink_[channel]; }
    [[nodiscard]] double load_rise(std::size_t channel) const { return load_[channel]; }
    /// Volts across one emitter resistor now. Warm-up starts near 70 % of the settled value and
    /// overshoots it by some 4 %; above idle heat it follows the heat-sink.
    [[nodiscard]] double emitter_volts(const ChannelParameters& channel, std::size_t index) const;
    /// Watts into the heat-sink that a bias above its own heats it with, where it is told to
    /// follow.
    [[nodiscard]] double extra_idle_watts(const ChannelParameters& channel,
                                          std::size_t index) const;
    /// Offset at the output now, volts.
    [[nodiscard]] double offset_volts(const ChannelParameters& channel, std::size_t index) const;

private:
    double on_seconds_;
    std::array<double, 2> sink_{};
    std::array<double, 2> load_{};
};

}  // namespace afterload::instruments
