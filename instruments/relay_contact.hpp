/// From the output stage to the terminals: output resistance and the contact of the speaker relay.
///
/// A clean contact is a resistance and the terminals are a fixed share of the output. A burnt one
/// rises with the current; a film holds until a voltage breaks through it: V = film_volts · tanh(I
/// · film_ohms / film_volts). Both are solved for the load that is there, so levels follow from
/// Ohm's law.
#pragma once

#include "instruments/odd_table.hpp"
#include "instruments/unit_parameters.hpp"

#include <array>
#include <span>

namespace afterload::instruments {

class RelayContact {
public:
    /// `load_ohms` is infinity without a load; `set_b` uses the other relay.
    void set(const UnitParameters& unit, const std::array<double, 2>& load_ohms, bool set_b);

    /// Resistance around the loop at small currents through a clean contact, for the output stage.
    [[nodiscard]] std::array<double, 2> loop_ohms() const { return loop_ohms_; }
    /// Output volts to terminal volts, in place.
    void process(std::span<double> frames) const;

private:
    std::array<double, 2> share_{1.0, 1.0};
    std::array<double, 2> loop_ohms_{};
    std::array<bool, 2> bent_{};
    std::array<OddTable, 2> missing_;  ///< volts short of share · output, by output volts
};

}  // namespace afterload::instruments
