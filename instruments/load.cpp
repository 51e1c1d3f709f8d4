#include "instruments/load.hpp"

#include <fmt/format.h>

#include <utility>

namespace afterload::instruments {

BenchFailure load_refused(std::string instrument, Ohms resistance, std::string why) {
    return {BenchFailure::Kind::refused, std::move(instrument),
            fmt::format("connect {:.3g} ohm", resistance.in<Ohms>()), std::move(why), Seconds{0.0}};
}

}  // namespace afterload::instruments
