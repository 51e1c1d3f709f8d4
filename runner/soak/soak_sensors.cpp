#include "runner/soak/soak_sensors.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::runner {

using instruments::Meter;
using instruments::MeterQuantity;
using instruments::Task;

namespace {

// Common practice: 70 °C is where a heat-sink burns the hand, 85 °C where a class AB stage is in
// danger; a rise of 2 K/min after half an hour, of 5 K/min at any time, is no warm-up.
constexpr double usual_sink_warn = 70.0;
constexpr double usual_sink_stop = 85.0;
constexpr double usual_warn_rise = 2.0;
constexpr double usual_stop_rise = 5.0;
constexpr double usual_load_warn = 150.0;
constexpr double usual_load_stop = 200.0;
constexpr double usual_ambient_warn = 35.0;
constexpr double usual_ambient_stop = 40.0;
constexpr double sensor_fault_code = -127.0;
constexpr Seconds mains_near{1.5};
constexpr double mains_steady = 0.02;

const sequences::SoakLimitEntry* entry_of(const sequences::Soak& soak, std::string_view name) {
    const auto found = std::find_if(soak.limits.begin(), soak.limits.end(),
                                    [&](const auto& entry) { return entry.quantity == name; });
    return found == soak.limits.end() ? nullptr : &*found;
}

TemperatureLimits limits_of(const sequences::Soak& soak, std::string_view name, double warn,
                            double stop, std::optional<Celsius> of_bench) {
    const auto* const entry = entry_of(soak, name);
    TemperatureLimits limits;
    limits.warn = Celsius{entry != nullptr ? entry->flag.value_or(warn) : warn};
    limits.stop = Celsius{entry != nullptr ? entry->kill.value_or(stop) : stop};
    if (of_bench) {
        limits.stop = std::min(*limits.stop, *of_bench);
        limits.warn = std::min(*limits.warn, *limits.stop);
    }
    return limits;
}

}  // namespace

TemperatureLimits sink_limits(const sequences::Soak& soak, const sequences::BenchFile& bench) {
    TemperatureLimits limits =
        limits_of(soak, "heat_sink", usual_sink_warn, usual_sink_stop, bench.limits.heat_sink);
    const auto* const rise = entry_of(soak, "heat_sink_rise");
    limits.warn_rise = rise != nullptr ? rise->flag.value_or(usual_warn_rise) : usual_warn_rise;
    limits.stop_rise = rise != nullptr ? rise->kill.value_or(usual_stop_rise) : usual_stop_rise;
    return limits;
}

TemperatureLimits load_limits(const sequences::Soak& soak, const sequences::BenchFile& bench) {
    return limits_of(soak, "load_temperature", usual_load_warn, usual_load_stop, bench.limits.load);
}

TemperatureLimits ambient_limits(const sequences::Soak& soak) {
    return limits_of(soak, "ambient", usual_ambient_warn, usual_ambient_stop, std::nullopt);
}

SoakSensors::SoakSensors(instruments::Bench& bench, const sequences::BenchFile& file,
                         const sequences::Soak& soak)
    : bench_{bench} {
    Meter* const all = bench.meter();
    if (all == nullptr) {
        return;
    }
    for (Meter* const meter : all->members()) {
        add_sensor(*meter, MeterQuantity::heat_sink, "heat sink", sink_limits(soak, file));
        add_sensor(*meter, MeterQuantity::load_temperature, "load", load_limits(soak, file));
        if (meter->can_read(MeterQuantity::ambient)) {
            const TemperatureLimits limits = ambient_limits(soak);
            watched_.push_back({meter->identity() + ", room", "room", limits.warn, limits.stop,
                                std::nullopt, std::nullopt});
            asked_.push_back({meter, MeterQuantity::ambient, Channels::both});
        }
    }
}

void SoakSensors::add_sensor(Meter& meter, MeterQuantity quantity, const std::string& place,
                             const TemperatureLimits& limits) {
    if (!meter.can_read(quantity)) {
        return;
    }
    const std::vector<Channels> channels = meter.by_channel()
                                               ? std::vector{Channels::left, Channels::right}
                                               : std::vector{Channels::both};
    for (const Channels channel : channels) {
        const std::string where =
            channel == Channels::both ? place : place + ", " + std::string{name(channel)};
        watched_.push_back({meter.identity() + ", " + where, where, limits.warn, limits.stop,
                            limits.warn_rise, limits.stop_rise});
        asked_.push_back({&meter, quantity, channel});
    }
}

bool SoakSensors::on_the_unit() const {
    return std::any_of(asked_.begin(), asked_.end(), [](const Asked& asked) {
        return asked.quantity == MeterQuantity::heat_sink;
    });
}

std::vector<std::string> SoakSensors::missing() const {
    std::vector<std::string> out;
    Meter* const meter = bench_.meter();
    for (const MeterQuantity quantity :
         {MeterQuantity::heat_sink, MeterQuantity::load_temperature, MeterQuantity::ambient,
          MeterQuantity::mains_voltage, MeterQuantity::mains_power, MeterQuantity::dc_offset}) {
        if (meter == nullptr || !meter->can_read(quantity)) {
            out.emplace_back(instruments::name(quantity));
        }
    }
    return out;
}

Task<std::optional<double>> SoakSensors::ask(MeterQuantity quantity, Channels channel) {
    Meter* const meter = bench_.meter();
    if (meter == nullptr || !meter->can_read(quantity)) {
        co_return std::nullopt;
    }
    const auto reading = co_await meter->read(quantity, channel);
    co_return reading ? std::optional{reading->value} : std::nullopt;
}

Task<SlowLook> SoakSensors::look() {
    SlowLook look;
    for (const Asked& asked : asked_) {
        const auto reading = co_await asked.meter->read(asked.quantity, asked.channel);
        analysis::SensorReading seen;
        if (reading) {
            seen.value = Celsius{reading->value};
            seen.fault_code = reading->value == sensor_fault_code;
        } else {
            seen.fault_code = reading.error().kind == instruments::BenchFailure::Kind::wrong_reply;
        }
        look.sensors.push_back(seen);
    }
    look.mains_volts = co_await ask(MeterQuantity::mains_voltage, Channels::both);
    look.mains_watts = co_await ask(MeterQuantity::mains_power, Channels::both);
    look.offset[0] = co_await ask(MeterQuantity::dc_offset, Channels::left);
    look.offset[1] = co_await ask(MeterQuantity::dc_offset, Channels::right);
    co_return look;
}

Task<std::array<std::optional<double>, 2>> SoakSensors::quiescent() {
    std::array<std::optional<double>, 2> volts;
    volts[0] = co_await ask(MeterQuantity::emitter_voltage, Channels::left);
    volts[1] = co_await ask(MeterQuantity::emitter_voltage, Channels::right);
    co_return volts;
}

void MainsLog::add(Seconds at, double volts) {
    reads_.push_back({at, volts});
    while (reads_.front().at < at - Seconds{30.0}) {
        reads_.pop_front();
    }
}

std::optional<bool> MainsLog::steady_at(Seconds at) const {
    const Read* before = nullptr;
    const Read* after = nullptr;
    for (const Read& read : reads_) {
        if (read.at <= at && at - read.at <= mains_near) {
            before = &read;
        }
        if (after == nullptr && read.at > at && read.at - at <= mains_near) {
            after = &read;
        }
    }
    if (before == nullptr || after == nullptr) {
        return std::nullopt;
    }
    return std::abs(after->volts / before->volts - 1.0) <= mains_steady;
}

}  // namespace afterload::runner
