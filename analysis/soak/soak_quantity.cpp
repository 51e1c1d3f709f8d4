// Names, units and usual limits of what a soak holds a unit to.
#include "analysis/soak/reaction.hpp"

#include <algorithm>
#include <array>

namespace afterload::analysis {
namespace {

struct Row {
    SoakQuantity quantity;
    std::string_view name;
    std::string_view unit;
    SoakLimit usual;
};

constexpr std::optional<double> never;

// Trade practice for an amplifier that is left alone; every one may be overridden.
const std::array<Row, 15>& rows() {
    static const std::array<Row, 15> table{{
        {SoakQuantity::offset, "offset", "V", {0.05, never, 0.2}},
        {SoakQuantity::offset_step, "offset_step", "V", {0.02, never, 0.1}},
        {SoakQuantity::level_drift, "level_drift", "dB", {0.1, never, never}},
        {SoakQuantity::level_step, "level_step", "dB", {0.1, 0.5, never}},
        {SoakQuantity::channel_difference, "channel_difference", "dB", {0.1, 0.5, never}},
        {SoakQuantity::dropout, "dropout", "s", {0.0, 1.0, never}},
        {SoakQuantity::distortion_ratio, "distortion_ratio", "1", {2.0, 5.0, never}},
        {SoakQuantity::hum_rise, "hum_rise", "dB", {6.0, 20.0, never}},
        {SoakQuantity::noise_rise, "noise_rise", "dB", {6.0, 20.0, never}},
        {SoakQuantity::quiescent_ratio, "quiescent_ratio", "1", {1.15, never, 1.4}},
        {SoakQuantity::mains_power_ratio, "mains_power_ratio", "1", {1.1, never, 1.25}},
        {SoakQuantity::mains_power_fall, "mains_power_fall", "1", {0.1, never, 0.5}},
        {SoakQuantity::mains_voltage_away, "mains_voltage_away", "1", {0.1, 0.15, never}},
        {SoakQuantity::relay_clicks, "relay_clicks", "1", {1.0, 4.0, never}},
        {SoakQuantity::events_an_hour, "events_an_hour", "1", {never, 20.0, never}},
    }};
    return table;
}

const Row& row(SoakQuantity quantity) {
    return *std::find_if(rows().begin(), rows().end(),
                         [&](const Row& one) { return one.quantity == quantity; });
}

std::optional<double> lower(std::optional<double> a, std::optional<double> b) {
    if (!a || !b) {
        return a ? a : b;
    }
    return std::min(*a, *b);
}

}  // namespace

std::string_view name(SoakQuantity quantity) {
    return row(quantity).name;
}

std::string_view unit(SoakQuantity quantity) {
    return row(quantity).unit;
}

std::optional<SoakQuantity> soak_quantity(std::string_view name) {
    const auto found = std::find_if(rows().begin(), rows().end(),
                                    [&](const Row& one) { return one.name == name; });
    return found == rows().end() ? std::nullopt : std::optional{found->quantity};
}

SoakLimits usual_limits() {
    SoakLimits limits;
    for (const Row& one : rows()) {
        limits[one.quantity] = one.usual;
    }
    return limits;
}

SoakLimits under(const SoakLimits& sequence, const SoakLimits& bench) {
    SoakLimits limits = sequence;
    for (const auto& [quantity, limit] : bench) {
        SoakLimit& both = limits[quantity];
        both.flag = lower(both.flag, limit.flag);
        both.hold = lower(both.hold, limit.hold);
        both.kill = lower(both.kill, limit.kill);
    }
    return limits;
}

}  // namespace afterload::analysis
