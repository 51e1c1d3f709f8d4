/// The mains of the simulated room: a voltage and a frequency that wander slowly.
#pragma once

#include "instruments/noise_source.hpp"
#include "instruments/simulation.hpp"

namespace afterload::instruments {

class MainsModel {
public:
    explicit MainsModel(const Simulation& simulation);

    /// Moves on by `seconds`; voltage and frequency wander with time constants of 30 s and 20 s.
    void advance(double seconds);

    [[nodiscard]] double volts() const { return mean_volts_ + volts_off_; }
    [[nodiscard]] double hertz() const { return mean_hertz_ + hertz_off_; }
    /// Relative to the voltage at which the unit meets its rating.
    [[nodiscard]] double relative() const { return volts() / nominal_volts_; }

private:
    NoiseSource noise_;
    double mean_volts_;
    double wander_volts_;
    double nominal_volts_;
    double mean_hertz_;
    double volts_off_;
    double hertz_off_;
};

}  // namespace afterload::instruments
