/// The instruments of a simulated bench, served on a wire in real time: a source, a meter, a box of
/// relays, a digitiser and a programmable load around the simulated unit.
///
///     source   [SOURce:]FREQuency[:CW] HZ   [SOURce:]VOLTage[:LEVel] VRMS   OUTPut[:STATe] ON|OFF
///     meter    MEASure[:VOLTage]:DC? (@1)   offset left, (@2) right
///              MEASure:VOLTage:AC?          mains
///              MEASure:TEMPerature? (@1)    heat sink left, (@2) right, (@3) room
///     relays   ROUTe:CLOSe (@101)           101, 102 … kinds of loads; 201, 202 … ranges
///              ROUTe:OPEN (@101)   ROUTe:CLOSe? (@101)
///     digitiser  see scpi_digitiser.hpp
///     load     [SOURce:]RESistance OHM   INPut[:STATe] ON|OFF   programmable, both channels
#pragma once

#include "instruments/async.hpp"
#include "instruments/simulation.hpp"

#include <array>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>

namespace afterload::instruments {

class ServedBench {
public:
    /// Called when an output or a relay changes: monotonic time, what, and its new state: "source
    /// output on".
    using Notice = std::function<void(Seconds when, const std::string& what)>;

    /// `ports` of source, meter, relays, digitiser and load; 0: any that is free. Throws
    /// std::system_error where one is taken.
    ServedBench(const Simulation& simulation, std::array<std::uint16_t, 5> ports, Notice notice);
    ~ServedBench();
    ServedBench(const ServedBench&) = delete;
    ServedBench& operator=(const ServedBench&) = delete;

    [[nodiscard]] std::array<std::uint16_t, 5> ports() const;
    /// Serves all five until the executor is stopped; the simulated time follows the clock.
    [[nodiscard]] Task<void> serve();

private:
    class Instruments;
    std::unique_ptr<Instruments> instruments_;
};

}  // namespace afterload::instruments
