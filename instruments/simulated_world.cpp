#include "instruments/simulated_world.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "instruments/noise_source.hpp"

namespace afterload::instruments {

class SimulatedWorld::Parts {
public:
    explicit Parts(const Simulation& s) : settings{s}, noise{s.run_seed, 1} {}
    Simulation settings;
    NoiseSource noise;
    UnitControls controls;
    Stimulus stimulus;
    std::int64_t frame = 0;
    std::int64_t started = 0;
    double seconds = 0.0;
    bool connected = false;
    std::size_t range = 0;
    Strain strain;
};

SimulatedWorld::SimulatedWorld(const Simulation& simulation)
    : parts_{std::make_unique<Parts>(simulation)} {}
SimulatedWorld::~SimulatedWorld() = default;

Seconds SimulatedWorld::now() const {
    return Seconds{parts_->seconds};
}
void SimulatedWorld::advance(Seconds duration) {
    parts_->seconds += duration.in<Seconds>();
    parts_->frame += frames_in(duration, parts_->settings.rate).count();
}
std::vector<std::vector<std::int32_t>> SimulatedWorld::record(Frames frames) {
    Parts& p = *parts_;
    const double rate = p.settings.rate.frequency().in<Hertz>();
    const SimulatedRange& range = p.settings.ranges[p.range];
    const double peak = std::sqrt(2.0 * p.settings.power.in<Watts>() * p.settings.load.in<Ohms>());
    const double steps = std::ldexp(1.0, p.settings.bits - 1);
    std::vector<std::vector<std::int32_t>> out(2);
    for (std::size_t c = 0; c < 2; ++c) {
        double gain = amplitude_ratio(p.settings.line_gain).in<AmplitudeRatio>() *
                      std::pow(10.0, p.controls.volume_decibels / 20.0);
        if (p.controls.volume_zero) {
            gain = 0.0;
        }
        const double full = range.full_scale.in<VoltsPeak>() * (1.0 + range.error[c]);
        for (std::int64_t n = 0; n < frames.count(); ++n) {
            double v = 0.0;
            for (const Partial& partial : p.stimulus.channels[c]) {
                v += partial.amplitude.in<VoltsPeak>() *
                     std::cos(2.0 * std::numbers::pi * partial.frequency.in<Hertz>() *
                                  static_cast<double>(p.frame - p.started + n) / rate +
                              partial.phase.in<Radians>());
            }
            v *= gain;
            v += 1e-4 * v * v / peak + 1e-4 * v * v * v / peak / peak;
            v = std::clamp(v, -1.04 * peak, 1.04 * peak);
            std::vector<double> one{v};
            p.noise.add_to(one, 1, 2e-4);
            out[c].push_back(static_cast<std::int32_t>(
                std::clamp(std::nearbyint(one[0] / full * steps), -steps, steps - 1.0)));
        }
    }
    p.frame += frames.count();
    p.seconds += static_cast<double>(frames.count()) / rate;
    return out;
}
void SimulatedWorld::play(const Stimulus& stimulus) {
    parts_->stimulus = stimulus;
    parts_->started = parts_->frame;
}
void SimulatedWorld::connect_load(bool connected) {
    parts_->connected = connected;
}
void SimulatedWorld::select_range(std::size_t index) {
    parts_->range = index;
}
void SimulatedWorld::set_controls(const UnitControls& controls) {
    parts_->controls = controls;
}
const UnitControls& SimulatedWorld::controls() const {
    return parts_->controls;
}
MeterReading SimulatedWorld::read(MeterQuantity quantity, bool /*right*/) {
    switch (quantity) {
        case MeterQuantity::dc_offset: return {0.008, 0.0002, ""};
        case MeterQuantity::mains_voltage: return {parts_->settings.mains_voltage, 0.3, ""};
        case MeterQuantity::ambient: return {22.0, 0.5, ""};
        case MeterQuantity::heat_sink: return {30.0, 0.5, ""};
        case MeterQuantity::load_temperature: return {22.0, 0.5, ""};
        case MeterQuantity::emitter_voltage: return {0.012, 0.00005, ""};
        case MeterQuantity::main_rail: return {42.0, 0.05, ""};
        case MeterQuantity::tone_rail: return {18.0, 0.02, ""};
    }
    return {};
}
Strain SimulatedWorld::strain() const {
    return parts_->strain;
}

}  // namespace afterload::instruments
