#include "instruments/mains_model.hpp"

#include <cmath>

namespace afterload::instruments {

namespace {

constexpr double wander_hertz = 0.02;  // standard deviation: within 0.05 Hz nearly always

/// One step of a first-order random wander that keeps its standard deviation.
double wandered(double off, double deviation, double seconds, double time_constant,
                NoiseSource& noise) {
    const double kept = std::exp(-seconds / time_constant);
    return kept * off + deviation * std::sqrt(1.0 - kept * kept) * noise.normal_within(2.5);
}

}  // namespace

MainsModel::MainsModel(const Simulation& simulation)
    : noise_{simulation.run_seed, 0x6D61696EU},
      mean_volts_{simulation.mains_voltage},
      wander_volts_{simulation.mains_wander},
      nominal_volts_{simulation.nominal_mains},
      mean_hertz_{simulation.mains_frequency.in<Hertz>()},
      volts_off_{wander_volts_ * noise_.normal_within(2.5)},
      hertz_off_{wander_hertz * noise_.normal_within(2.5)} {}

void MainsModel::advance(double seconds) {
    volts_off_ = wandered(volts_off_, wander_volts_, seconds, 30.0, noise_);
    hertz_off_ = wandered(hertz_off_, wander_hertz, seconds, 20.0, noise_);
}

}  // namespace afterload::instruments
