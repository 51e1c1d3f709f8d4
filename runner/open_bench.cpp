#include "runner/open_bench.hpp"

#include "analysis/level.hpp"
#include "instruments/simulated_bench.hpp"
#include "runner/evaluation/bench_share.hpp"
#include "runner/open_real_bench.hpp"

#include <algorithm>
#include <array>
#include <exception>
#include <random>
#include <utility>

namespace afterload::runner {
namespace {

/// Errors of the rig, from its seed: uniform within what its standard uncertainty covers, ±√3·u, so
/// that no draw lies outside k = 2.
class RigErrors {
public:
    explicit RigErrors(std::uint64_t seed)
        : seed_{seed}, engine_{seed * 0x9E3779B97F4A7C15ULL + 1} {}
    [[nodiscard]] double within(double standard_uncertainty) {
        // Straight from the engine's bits: the library's distributions differ between builds.
        const double unit = static_cast<double>(engine_() >> 11U) * 0x1.0p-53;
        return standard_uncertainty * 1.7320508075688772 * (2.0 * unit - 1.0);
    }

    /// From a row of its own: what is drawn for it moves no other error.
    [[nodiscard]] double within_apart(double standard_uncertainty) const {
        RigErrors apart{seed_ ^ 0x6D65746572ULL};
        return apart.within(standard_uncertainty);
    }

private:
    std::uint64_t seed_;
    std::mt19937_64 engine_;
};

}  // namespace

instruments::Simulation simulation_of(const sequences::BenchFile& file,
                                      std::optional<double> nominal_mains,
                                      std::optional<Hertz> mains_frequency) {
    const sequences::SimulationEntry& entry = *file.simulated;
    // A calibration changes what is known of the rig, not the rig.
    const sequences::BenchFile& written = file.written ? *file.written : file;
    RigErrors errors{entry.rig_seed};
    instruments::Simulation simulation;
    simulation.unit_seed = entry.unit_seed;
    simulation.rig_seed = entry.rig_seed;
    simulation.run_seed = entry.run_seed;
    simulation.warm = entry.warm;
    simulation.power = entry.power;
    simulation.load = entry.load;
    simulation.line_gain = entry.line_gain;
    simulation.phono_gain = entry.phono_gain;
    simulation.headroom = entry.headroom;
    for (const auto& fault : entry.faults) {
        simulation.faults.push_back(
            {fault.fault, fault.channel, fault.severity, fault.begins, fault.above});
    }
    for (const auto& left : entry.left_wrong) {
        simulation.left_wrong.push_back({left.control, left.position});
    }
    simulation.sink_sensors = static_cast<int>(std::clamp<std::ptrdiff_t>(
        std::count_if(file.meters.begin(), file.meters.end(),
                      [](const sequences::MeterEntry& meter) {
                          return std::find(meter.reads.begin(), meter.reads.end(), "heat_sink") !=
                                 meter.reads.end();
                      }),
        1, 8));
    simulation.rate = file.card.rate;
    simulation.bits = file.card.bits;
    simulation.clock_ppm = entry.clock_ppm.value_or(simulation.clock_ppm);
    simulation.source_clock_ppm = entry.source_clock_ppm.value_or(simulation.source_clock_ppm);
    simulation.source_full_scale = peak_of_sine(file.source.full_scale);
    const double source_error =
        entry.source_error.value_or(errors.within(written.source.level_u_k1));
    simulation.source_level_error =
        written.source.full_scale / file.source.full_scale * (1.0 + source_error) - 1.0;
    simulation.meter_error = errors.within_apart(0.005);
    simulation.source_impedance = file.source.impedance;
    simulation.source_distortion = entry.source_distortion.value_or(simulation.source_distortion);
    simulation.input_distortion = entry.input_distortion.value_or(simulation.input_distortion);
    simulation.card_noise = entry.card_noise.value_or(simulation.card_noise);
    simulation.mains_voltage = entry.mains_voltage.value_or(nominal_mains.value_or(230.0));
    simulation.nominal_mains = nominal_mains.value_or(230.0);
    simulation.mains_frequency = mains_frequency.value_or(Hertz{50.0});
    simulation.ranges.clear();
    for (std::size_t i = 0; i < file.ranges.size(); ++i) {
        const auto& range = file.ranges[i];
        const auto& as_written = written.ranges.at(i);
        const double drawn = errors.within(as_written.level_u_k1);
        const double level = entry.input_error.value_or(drawn);
        const double balance = 0.5 * errors.within(as_written.balance_u_k1);
        const double moved = as_written.full_scale / range.full_scale;
        simulation.ranges.push_back(
            {range.name,
             range.full_scale,
             range.safe,
             {moved * (1.0 + level + balance) - 1.0, moved * (1.0 + level - balance) - 1.0}});
    }
    const auto pair_of = [&](std::optional<Ohms> resistance) {
        std::array<instruments::SimulatedLoad, 2> pair;
        for (int channel = 1; channel <= 2; ++channel) {
            auto& simulated = pair[static_cast<std::size_t>(channel) - 1];
            if (const auto* load = load_of(written, channel, resistance)) {
                simulated.nominal = load->resistance;
                simulated.error = errors.within(load->u_k1);
                simulated.temperature_coefficient = load->temperature_coefficient;
            }
        }
        return pair;
    };
    simulation.loads = pair_of(std::nullopt);
    if (file.generator) {
        // What the card plays is on the clock that records it.
        simulation.generator = instruments::SimulatedGenerator{
            peak_of_sine(file.generator->full_scale), errors.within(file.generator->level_u_k1),
            file.generator->impedance, file.generator->distortion.value_or(AmplitudeRatio{1e-6}),
            simulation.source_clock_ppm};
        simulation.source_clock_ppm = 0.0;
    }
    for (const Ohms kind : sequences::load_kinds(written)) {
        if (!same_load(kind, simulation.loads[0].nominal)) {
            simulation.other_loads.push_back(pair_of(kind));
        }
    }
    return simulation;
}

instruments::Task<tl::expected<OpenedBench, std::string>> open_bench(
    sequences::BenchFile file, std::optional<double> nominal_mains,
    std::optional<Hertz> mains_frequency, Operator& person) {
    if (!file.simulated) {
        auto opened = co_await open_real_bench(std::move(file), person);
        co_return opened;
    }
    try {
        OpenedBench opened;
        opened.bench =
            instruments::open_simulated_bench(simulation_of(file, nominal_mains, mains_frequency));
        co_return opened;
    } catch (const std::exception& error) {
        co_return tl::unexpected<std::string>(file.path + ": " + error.what());
    }
}

}  // namespace afterload::runner
