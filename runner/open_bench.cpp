#include "runner/open_bench.hpp"

#include "instruments/assembled_bench.hpp"
#include "instruments/card/sound_card.hpp"
#include "instruments/manual_instruments.hpp"
#include "instruments/simulated_bench.hpp"
#include "instruments/steady_clock.hpp"
#include "runner/evaluation/bench_share.hpp"

#include <algorithm>
#include <exception>
#include <random>
#include <utility>
#include <vector>

namespace afterload::runner {
namespace {

/// Errors of the rig, from its seed: uniform within what its standard uncertainty covers, ±√3·u, so
/// that no draw lies outside k = 2.
class RigErrors {
public:
    explicit RigErrors(std::uint64_t seed) : engine_{seed * 0x9E3779B97F4A7C15ULL + 1} {}
    [[nodiscard]] double within(double standard_uncertainty) {
        // Straight from the engine's bits: the library's distributions differ between builds.
        const double unit = static_cast<double>(engine_() >> 11U) * 0x1.0p-53;
        return standard_uncertainty * 1.7320508075688772 * (2.0 * unit - 1.0);
    }

private:
    std::mt19937_64 engine_;
};

}  // namespace

instruments::Simulation simulation_of(const sequences::BenchFile& file,
                                      std::optional<double> nominal_mains,
                                      std::optional<Hertz> mains_frequency) {
    const sequences::SimulationEntry& entry = *file.simulated;
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
    simulation.rate = file.card.rate;
    simulation.bits = file.card.bits;
    simulation.clock_ppm = entry.clock_ppm.value_or(simulation.clock_ppm);
    simulation.source_clock_ppm = entry.source_clock_ppm.value_or(simulation.source_clock_ppm);
    simulation.source_full_scale = peak_of_sine(file.source.full_scale);
    simulation.source_level_error = errors.within(file.source.level_u_k1);
    simulation.source_impedance = file.source.impedance;
    simulation.source_distortion = entry.source_distortion.value_or(simulation.source_distortion);
    simulation.input_distortion = entry.input_distortion.value_or(simulation.input_distortion);
    simulation.card_noise = entry.card_noise.value_or(simulation.card_noise);
    simulation.mains_voltage = entry.mains_voltage.value_or(nominal_mains.value_or(230.0));
    simulation.nominal_mains = nominal_mains.value_or(230.0);
    simulation.mains_frequency = mains_frequency.value_or(Hertz{50.0});
    simulation.ranges.clear();
    for (const auto& range : file.ranges) {
        const double level = errors.within(range.level_u_k1);
        const double balance = 0.5 * errors.within(range.balance_u_k1);
        simulation.ranges.push_back(
            {range.name, range.full_scale, range.safe, {level + balance, level - balance}});
    }
    for (int channel = 1; channel <= 2; ++channel) {
        const auto* load = load_of(file, channel);
        auto& simulated = simulation.loads[static_cast<std::size_t>(channel) - 1];
        if (load != nullptr) {
            simulated.nominal = load->resistance;
            simulated.error = errors.within(load->u_k1);
            simulated.temperature_coefficient = load->temperature_coefficient;
        }
    }
    return simulation;
}

namespace {

/// Names of the ranges, the safest first.
std::vector<std::string> range_names(const sequences::BenchFile& file) {
    std::vector<sequences::RangeEntry> ranges = file.ranges;
    std::stable_sort(ranges.begin(), ranges.end(),
                     [](const auto& a, const auto& b) { return a.safe > b.safe; });
    std::vector<std::string> names;
    names.reserve(ranges.size());
    for (const auto& range : ranges) {
        names.push_back(range.name);
    }
    return names;
}

bool asked_for_range(Operator& person, const std::string& range) {
    sequences::Prompt prompt;
    prompt.title = "Set the range between the unit's outputs and the card, left and right";
    prompt.controls = {{"range", range}};
    return person.ask(prompt, 0, 0) == Answer::done;
}

tl::expected<std::unique_ptr<instruments::Bench>, std::string> open_real_bench(
    const sequences::BenchFile& file, Operator& person) {
    using namespace instruments;
    CardSettings settings;
    settings.pcm.device = file.card.device;
    settings.pcm.rate = file.card.rate;
    settings.pcm.bits = file.card.bits;
    settings.pcm.stand_in = file.stand_in;
    settings.full_scale = peak_of_sine(file.source.full_scale);
    auto stream = CardStream::open(settings);
    if (!stream) {
        return tl::unexpected(file.path + ": " + text(stream.error()));
    }
    const auto card = std::make_shared<SoundCard>();
    card->name = file.card.name;
    card->full_scale = settings.full_scale;
    card->stand_in = file.stand_in;
    card->stream = *std::move(stream);

    BenchParts parts;
    parts.shared = card;
    parts.clock = std::make_unique<SteadyClock>();
    parts.load = std::make_unique<WiredLoads>();
    parts.range_switch = std::make_unique<HandRanges>(
        range_names(file),
        [&person](const std::string& range) { return asked_for_range(person, range); });
    parts.source = std::make_unique<CardSource>(*card, *parts.clock);
    parts.capture = std::make_unique<CardCapture>(
        *card, *parts.clock, *parts.range_switch,
        // A copy: the plan that the file stands in goes its own way.
        [file](const std::string& name) { return find_range(file, name)->full_scale; });
    return std::make_unique<AssembledBench>(std::move(parts));
}

}  // namespace

tl::expected<std::unique_ptr<instruments::Bench>, std::string> open_bench(
    const sequences::BenchFile& file, std::optional<double> nominal_mains,
    std::optional<Hertz> mains_frequency, Operator& person) {
    if (!file.simulated) {
        return open_real_bench(file, person);
    }
    try {
        return instruments::open_simulated_bench(
            simulation_of(file, nominal_mains, mains_frequency));
    } catch (const std::exception& error) {
        return tl::unexpected(file.path + ": " + error.what());
    }
}

}  // namespace afterload::runner
