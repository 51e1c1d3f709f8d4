/// The main supply: two rails that follow the mains, sag with the mean current of both channels and
/// carry a ripple of twice the mains frequency.
#pragma once

#include <array>

namespace afterload::instruments {

struct SupplyParameters {
    double unloaded_volts = 42.0;     ///< each rail at nominal mains, no load
    double source_ohms = 2.4;         ///< each rail
    double reservoir_farads = 0.010;  ///< each rail
    double lost_volts = 3.0;          ///< from rail to output at clipping
    double idle_amperes = 0.09;       ///< each rail, both channels together
    double tone_rail_volts = 18.0;    ///< regulated, of tone and phono stage
    double tone_rail_lost = 1.5;      ///< from that rail to an output at clipping
    double ripple_rejection = 4e-4;   ///< ripple of one rail that reaches the output, ratio
    double ripple_modulation = 4e-3;  ///< relative change of gain by a relative change of the rail
};

/// Mean currents drawn from the rails over some time, amperes, both positive.
struct RailCurrents {
    double positive = 0.0;
    double negative = 0.0;
};

class Supply {
public:
    /// Moves on by `seconds` during which the output stages draw `drawn` beyond the idle current.
    /// The sag follows the current with time constants of 30 ms and 120 ms, so that how the signal
    /// was cut into blocks leaves no trace in it.
    void advance(double seconds, const RailCurrents& drawn);

    /// Rail volts without ripple (both positive numbers), at `mains` times the nominal voltage.
    [[nodiscard]] std::array<double, 2> rails(double mains,
                                              const SupplyParameters& parameters) const;
    /// Peak-to-peak ripple of the rails, volts: I / (2·f·C) of a full-wave rectifier.
    [[nodiscard]] std::array<double, 2> ripple(double mains_hertz,
                                               const SupplyParameters& parameters) const;

private:
    RailCurrents smooth_;
    RailCurrents mean_;
};

/// Ripple of unit peak-to-peak value at `phase` (0 … 1) of its period: quick charge, slow
/// discharge.
[[nodiscard]] double ripple_shape(double phase);

}  // namespace afterload::instruments
