#include "instruments/heat.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::instruments {

namespace {

constexpr double load_seconds = 240.0;

double idle_rise(const ChannelParameters& channel) {
    return channel.idle_watts * channel.sink_kelvin_per_watt;
}

}  // namespace

Heat::Heat(const UnitParameters& unit, bool warm) : on_seconds_{warm ? 1e6 : 10.0} {
    for (std::size_t c = 0; c < 2; ++c) {
        sink_[c] = warm ? idle_rise(unit.channels[c]) : 0.0;
    }
}

void Heat::advance(double seconds, const UnitParameters& unit,
                   const std::array<double, 2>& sink_watts, const std::array<double, 2>& load_watts,
                   const std::array<double, 2>& load_rise_per_watt) {
    on_seconds_ += seconds;
    for (std::size_t c = 0; c < 2; ++c) {
        const ChannelParameters& channel = unit.channels[c];
        const double sink_end = sink_watts[c] * channel.sink_kelvin_per_watt;
        sink_[c] += -std::expm1(-seconds / channel.sink_seconds) * (sink_end - sink_[c]);
        const double load_end = load_watts[c] * load_rise_per_watt[c];
        load_[c] += -std::expm1(-seconds / load_seconds) * (load_end - load_[c]);
    }
}

double Heat::emitter_volts(const ChannelParameters& channel, std::size_t index) const {
    constexpr double slow_share = 0.27;
    const double slow_seconds = channel.warm_up_seconds * 20.0 / 9.0;
    const double warm_up = 1.0 -
                           (0.3 + slow_share) * std::exp(-on_seconds_ / channel.warm_up_seconds) +
                           slow_share * std::exp(-on_seconds_ / slow_seconds);
    const double heated = 1.0 + channel.bias_tracking * (sink_[index] - idle_rise(channel));
    return channel.emitter_volts * warm_up * std::max(heated, 0.1);
}

double Heat::extra_idle_watts(const ChannelParameters& channel, std::size_t index) const {
    constexpr double most = 8.0;  // times idle: then the rails have collapsed or a fuse is gone
    const double ratio = emitter_volts(channel, index) / channel.emitter_volts;
    return channel.idle_follows_bias * channel.idle_watts * std::clamp(ratio - 1.0, 0.0, most);
}

double Heat::offset_volts(const ChannelParameters& channel, std::size_t index) const {
    const double cold = std::exp(-on_seconds_ / 180.0);
    return channel.offset_volts + cold * (channel.offset_cold_volts - channel.offset_volts) +
           channel.offset_per_kelvin * (sink_[index] - idle_rise(channel));
}

}  // namespace afterload::instruments
