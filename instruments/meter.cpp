#include "instruments/meter.hpp"

namespace afterload::instruments {

std::string_view name(MeterQuantity quantity) {
    switch (quantity) {
        case MeterQuantity::dc_offset:
            return "dc_offset";
        case MeterQuantity::mains_voltage:
            return "mains_voltage";
        case MeterQuantity::ambient:
            return "ambient";
        case MeterQuantity::heat_sink:
            return "heat_sink";
        case MeterQuantity::load_temperature:
            return "load_temperature";
        case MeterQuantity::emitter_voltage:
            return "emitter_voltage";
        case MeterQuantity::main_rail:
            return "main_rail";
        case MeterQuantity::mains_power:
            return "mains_power";
        case MeterQuantity::tone_rail:
            return "tone_rail";
        case MeterQuantity::source_voltage:
            return "source_voltage";
        case MeterQuantity::load_resistance:
            return "load_resistance";
    }
    return "dc_offset";
}

}  // namespace afterload::instruments
