#include "instruments/supply.hpp"

#include <cmath>

namespace afterload::instruments {

void Supply::advance(double seconds, const RailCurrents& drawn) {
    constexpr double smoothed_within = 0.03;
    constexpr double sags_within = 0.12;
    const double fast = -std::expm1(-seconds / smoothed_within);
    smooth_.positive += fast * (drawn.positive - smooth_.positive);
    smooth_.negative += fast * (drawn.negative - smooth_.negative);
    const double slow = -std::expm1(-seconds / sags_within);
    mean_.positive += slow * (smooth_.positive - mean_.positive);
    mean_.negative += slow * (smooth_.negative - mean_.negative);
}

std::array<double, 2> Supply::rails(double mains, const SupplyParameters& parameters) const {
    const double open = mains * parameters.unloaded_volts;
    const double ohms = parameters.source_ohms;
    return {open - ohms * (mean_.positive + parameters.idle_amperes),
            open - ohms * (mean_.negative + parameters.idle_amperes)};
}

std::array<double, 2> Supply::ripple(double mains_hertz, const SupplyParameters& parameters) const {
    const double per_ampere = 1.0 / (2.0 * mains_hertz * parameters.reservoir_farads);
    return {per_ampere * (mean_.positive + parameters.idle_amperes),
            per_ampere * (mean_.negative + parameters.idle_amperes)};
}

double ripple_shape(double phase) {
    constexpr double charging = 0.2;  // of the period
    return phase < charging ? phase / charging - 0.5 : 0.5 - (phase - charging) / (1.0 - charging);
}

}  // namespace afterload::instruments
