/// What stands on wires: USB-TMC devices of the machine, and whatever answers at addresses that
/// somebody names.
#pragma once

#include "instruments/async.hpp"

#include <string>
#include <vector>

namespace afterload::instruments {

struct WireFound {
    std::string address;   ///< "usbtmc:/dev/usbtmc0"
    std::string identity;  ///< its answer to *IDN?; empty: none
    std::string why_not;   ///< where there was none
};

/// USB-TMC devices and the addresses of `also` are asked *IDN?; serial ports are listed and left
/// alone, since not everything on a serial line bears to be talked to.
[[nodiscard]] Task<std::vector<WireFound>> wires_found(std::vector<std::string> also);

}  // namespace afterload::instruments
