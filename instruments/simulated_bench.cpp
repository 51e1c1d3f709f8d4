#include "instruments/simulated_bench.hpp"

#include "instruments/simulated_instruments.hpp"
#include "instruments/simulated_world.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <utility>

namespace afterload::instruments {

namespace {

void require(bool right, const char* what) {
    if (!right) {
        throw std::invalid_argument(what);
    }
}

void check(const Simulation& simulation) {
    const double rate = simulation.rate.frequency().in<Hertz>();
    require(rate >= 32e3 && rate <= 192e3, "simulated card: a rate of 32 kHz to 192 kHz is needed");
    require(simulation.bits >= 16 && simulation.bits <= 32, "simulated card: 16 to 32 bits");
    require(simulation.power.in<Watts>() > 0.0, "simulated unit: its power is not positive");
    require(simulation.load.in<Ohms>() > 0.0, "simulated unit: its load is not positive");
    require(simulation.mains_voltage > 0.0 && simulation.nominal_mains > 0.0,
            "simulated mains: its voltage is not positive");
    require(simulation.mains_frequency.in<Hertz>() > 0.0,
            "simulated mains: its frequency is not positive");
    require(simulation.source_full_scale.in<VoltsPeak>() > 0.0,
            "simulated source: its full scale is not positive");
    require(simulation.source_impedance.in<Ohms>() >= 0.0,
            "simulated source: its impedance is negative");
    if (simulation.generator) {
        require(simulation.generator->full_scale.in<VoltsPeak>() > 0.0 &&
                    simulation.generator->impedance.in<Ohms>() >= 0.0,
                "simulated generator: its full scale or its impedance is none");
    }
    require(simulation.sink_sensors >= 1 && simulation.sink_sensors <= 8,
            "simulated meter: 1 to 8 sensors on the heat-sink");
    require(!simulation.ranges.empty(), "simulated bench: it has no range");
    for (const SimulatedRange& range : simulation.ranges) {
        require(range.full_scale.in<VoltsPeak>() > 0.0 && range.safe.in<VoltsPeak>() > 0.0,
                "simulated range: its volts are not positive");
    }
    for (const SimulatedLoad& load : simulation.loads) {
        require(load.nominal.in<Ohms>() > 0.0 && load.error > -1.0,
                "simulated load: its resistance is not positive");
    }
}

class Simulated final : public SimulatedBench {
public:
    explicit Simulated(const Simulation& simulation)
        : world_{simulation},
          clock_{world_},
          source_{world_, simulation},
          generator_{simulation.generator ? std::make_unique<SimulatedSineSource>(
                                                world_, simulation.generator->full_scale)
                                          : nullptr},
          capture_{world_, simulation, range_switch_},
          range_switch_{world_, simulation},
          load_{world_},
          meter_{world_, simulation.sink_sensors - 1},
          mains_switch_{world_},
          hands_{world_, range_switch_} {}

    Clock& clock() override { return clock_; }
    Source& source() override { return source_; }
    Source* generator() override { return generator_.get(); }
    Capture& capture() override { return capture_; }
    Load& load() override { return load_; }
    RangeSwitch& range_switch() override { return range_switch_; }
    Meter* meter() override { return &meter_; }
    Hands* hands() override { return &hands_; }
    MainsSwitch* mains_switch() override { return &mains_switch_; }
    Strain strain() const override { return world_.strain(); }

private:
    SimulatedWorld world_;
    VirtualClock clock_;
    SimulatedSource source_;
    std::unique_ptr<SimulatedSineSource> generator_;
    SimulatedCapture capture_;
    SimulatedRangeSwitch range_switch_;
    SimulatedLoads load_;
    SimulatedMeter meter_;
    SimulatedMainsSwitch mains_switch_;
    SimulatedHands hands_;
};

}  // namespace

std::unique_ptr<SimulatedBench> open_simulated_bench(const Simulation& simulation) {
    check(simulation);
    return std::make_unique<Simulated>(simulation);
}

}  // namespace afterload::instruments
