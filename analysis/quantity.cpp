#include "analysis/quantity.hpp"

#include <cmath>

namespace afterload {

VoltsRms voltage_for(Watts power, Ohms load) {
    return VoltsRms{std::sqrt(power.in<Watts>() * load.in<Ohms>())};
}

}  // namespace afterload
