#include "runner/papers/bench_json.hpp"

#include "runner/papers/figure_json.hpp"
#include "runner/papers/json_quantity.hpp"

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

namespace afterload::runner {

namespace {

using namespace sequences;

constexpr std::array<std::pair<Switching, std::string_view>, 3> switchings{
    {{Switching::fixed, "fixed"}, {Switching::relay, "relay"}, {Switching::by_hand, "by_hand"}}};
constexpr std::array<std::pair<CardEntry::Driver, std::string_view>, 3> drivers{
    {{CardEntry::Driver::simulated, "simulated"},
     {CardEntry::Driver::sound_card, "sound_card"},
     {CardEntry::Driver::digitiser, "digitiser"}}};

template <class Enum, std::size_t size>
std::string_view text_of(const std::array<std::pair<Enum, std::string_view>, size>& names,
                         Enum wanted) {
    for (const auto& [value, text] : names) {
        if (value == wanted) {
            return text;
        }
    }
    return "unknown";
}

template <class Enum, std::size_t size>
Enum value_at(const JsonPlace& place,
              const std::array<std::pair<Enum, std::string_view>, size>& names) {
    return named_value(place, [&](std::string_view wanted) {
        std::optional<Enum> found;
        for (const auto& [value, text] : names) {
            if (text == wanted) {
                found = value;
            }
        }
        return found;
    });
}

template <class Quantity>
Quantity need(const JsonPlace& place, std::string_view key) {
    return Quantity{place.at(key).number()};
}

Json range_json(const RangeEntry& range) {
    Json out;
    out["name"] = range.name;
    out["full_scale_v_peak"] = range.full_scale.in<VoltsPeak>();
    out["safe_v_peak"] = range.safe.in<VoltsPeak>();
    out["switched"] = text_of(switchings, range.switched);
    out["level_u_k1"] = range.level_u_k1;
    out["balance_u_k1"] = range.balance_u_k1;
    out["calibrated"] = range.calibrated;
    put_quantity(out, "own_noise_v", range.own_noise);
    put_quantity(out, "own_noise_a_v", range.own_noise_a);
    put_quantity(out, "own_hum_v", range.own_hum);
    put_quantity(out, "own_separation", range.own_separation);
    Json& list = out["own_distortion"] = Json::array();
    for (const OwnDistortion& own : range.own_distortion) {
        Json entry;
        entry["at_v"] = own.at.in<VoltsRms>();
        entry["source"] = own.source.in<AmplitudeRatio>();
        entry["input"] = own.input.in<AmplitudeRatio>();
        list.push_back(std::move(entry));
    }
    out["own_found"] = range.own_found;
    return out;
}

RangeEntry get_range(const JsonPlace& place) {
    RangeEntry range;
    range.name = place.at("name").text();
    range.full_scale = need<VoltsPeak>(place, "full_scale_v_peak");
    range.safe = need<VoltsPeak>(place, "safe_v_peak");
    range.switched = value_at(place.at("switched"), switchings);
    range.level_u_k1 = place.at("level_u_k1").number();
    range.balance_u_k1 = place.at("balance_u_k1").number();
    range.calibrated = place.text_or("calibrated");
    range.own_noise = get_quantity<VoltsRms>(place, "own_noise_v");
    range.own_noise_a = get_quantity<VoltsRms>(place, "own_noise_a_v");
    range.own_hum = get_quantity<VoltsRms>(place, "own_hum_v");
    range.own_separation = get_quantity<AmplitudeRatio>(place, "own_separation");
    for (const JsonPlace& entry : place.at("own_distortion").items()) {
        range.own_distortion.push_back({need<VoltsRms>(entry, "at_v"),
                                        need<AmplitudeRatio>(entry, "source"),
                                        need<AmplitudeRatio>(entry, "input")});
    }
    range.own_found = place.text_or("own_found");
    return range;
}

Json source_json(const SourceEntry& source) {
    Json out;
    out["full_scale_v"] = source.full_scale.in<VoltsRms>();
    out["impedance_ohm"] = source.impedance.in<Ohms>();
    out["level_u_k1"] = source.level_u_k1;
    out["calibration"] = source.calibration_id;
    if (!source.instrument.empty()) {
        out["instrument"] = source.instrument;
    }
    put_quantity(out, "distortion", source.distortion);
    return out;
}

SourceEntry get_source(const JsonPlace& place) {
    SourceEntry source;
    source.full_scale = need<VoltsRms>(place, "full_scale_v");
    source.impedance = need<Ohms>(place, "impedance_ohm");
    source.level_u_k1 = place.at("level_u_k1").number();
    source.calibration_id = place.text_or("calibration");
    source.instrument = place.text_or("instrument");
    source.distortion = get_quantity<AmplitudeRatio>(place, "distortion");
    return source;
}

Json load_json(const LoadEntry& load) {
    Json out;
    out["channel"] = name(load.channel);
    out["resistance_ohm"] = load.resistance.in<Ohms>();
    out["u_k1"] = load.u_k1;
    out["continuous_w"] = load.continuous.in<Watts>();
    put_quantity(out, "short_term_w", load.short_term);
    put_quantity(out, "short_time_s", load.short_time);
    out["temperature_coefficient"] = load.temperature_coefficient;
    out["heat_u_k1"] = load.heat_u_k1;
    out["measured"] = load.measured;
    return out;
}

LoadEntry get_load(const JsonPlace& place) {
    LoadEntry load;
    load.channel = named_value(place.at("channel"), channels_named);
    load.resistance = need<Ohms>(place, "resistance_ohm");
    load.u_k1 = place.at("u_k1").number();
    load.continuous = need<Watts>(place, "continuous_w");
    load.short_term = get_quantity<Watts>(place, "short_term_w");
    load.short_time = get_quantity<Seconds>(place, "short_time_s");
    load.temperature_coefficient = place.at("temperature_coefficient").number();
    load.heat_u_k1 = place.at("heat_u_k1").number();
    load.measured = place.text_or("measured");
    return load;
}

Json limits_json(const HouseLimits& limits) {
    Json out = Json::object();
    put_quantity(out, "largest_drive_v", limits.largest_drive);
    put_quantity(out, "largest_output_w", limits.largest_output);
    put_quantity(out, "heat_sink_degc", limits.heat_sink);
    put_quantity(out, "load_degc", limits.load);
    return out;
}

HouseLimits get_limits(const JsonPlace& place) {
    return {get_quantity<VoltsRms>(place, "largest_drive_v"),
            get_quantity<Watts>(place, "largest_output_w"),
            get_quantity<Celsius>(place, "heat_sink_degc"),
            get_quantity<Celsius>(place, "load_degc")};
}

}  // namespace

Json simulation_json(const SimulationEntry& simulation) {
    Json out;
    out["unit_seed"] = simulation.unit_seed;
    out["rig_seed"] = simulation.rig_seed;
    out["run_seed"] = simulation.run_seed;
    out["warm"] = simulation.warm;
    out["power_w"] = simulation.power.in<Watts>();
    out["load_ohm"] = simulation.load.in<Ohms>();
    out["line_gain_db"] = simulation.line_gain.decibels();
    out["phono_gain_db"] = simulation.phono_gain.decibels();
    if (simulation.headroom) {
        out["headroom_db"] = simulation.headroom->decibels();
    }
    Json& faults = out["faults"] = Json::array();
    for (const FaultEntry& fault : simulation.faults) {
        Json entry;
        entry["fault"] = fault.fault;
        entry["channel"] = name(fault.channel);
        entry["severity"] = fault.severity;
        put_quantity(entry, "begins_s", fault.begins);
        put_quantity(entry, "above_degc", fault.above);
        faults.push_back(std::move(entry));
    }
    for (const LeftWrongEntry& left : simulation.left_wrong) {
        Json entry;
        entry["control"] = left.control;
        entry["position"] = left.position;
        out["left_wrong"].push_back(std::move(entry));
    }
    if (simulation.clock_ppm) {
        out["clock_ppm"] = *simulation.clock_ppm;
    }
    if (simulation.source_clock_ppm) {
        out["source_clock_ppm"] = *simulation.source_clock_ppm;
    }
    put_quantity(out, "source_distortion", simulation.source_distortion);
    put_quantity(out, "input_distortion", simulation.input_distortion);
    if (simulation.card_noise) {
        out["card_noise_dbfs"] = simulation.card_noise->decibels();
    }
    if (simulation.mains_voltage) {
        out["mains_voltage_v"] = *simulation.mains_voltage;
    }
    return out;
}

SimulationEntry get_simulation(const JsonPlace& place) {
    SimulationEntry simulation;
    simulation.unit_seed = place.at("unit_seed").whole_unsigned();
    simulation.rig_seed = place.at("rig_seed").whole_unsigned();
    simulation.run_seed = place.at("run_seed").whole_unsigned();
    simulation.warm = place.at("warm").boolean();
    simulation.power = need<Watts>(place, "power_w");
    simulation.load = need<Ohms>(place, "load_ohm");
    simulation.line_gain = Gain{place.at("line_gain_db").number()};
    simulation.phono_gain = Gain{place.at("phono_gain_db").number()};
    if (const auto headroom = place.maybe_number("headroom_db")) {
        simulation.headroom = Gain{*headroom};
    }
    for (const JsonPlace& entry : place.at("faults").items()) {
        FaultEntry fault;
        fault.fault = entry.at("fault").text();
        fault.channel = named_value(entry.at("channel"), channels_named);
        fault.severity = entry.at("severity").number();
        fault.begins = get_quantity<Seconds>(entry, "begins_s");
        fault.above = get_quantity<Celsius>(entry, "above_degc");
        simulation.faults.push_back(std::move(fault));
    }
    if (const auto left = place.find("left_wrong")) {
        for (const JsonPlace& entry : left->items()) {
            simulation.left_wrong.push_back(
                {entry.at("control").text(), entry.at("position").text()});
        }
    }
    simulation.clock_ppm = place.maybe_number("clock_ppm");
    simulation.source_clock_ppm = place.maybe_number("source_clock_ppm");
    simulation.source_distortion = get_quantity<AmplitudeRatio>(place, "source_distortion");
    simulation.input_distortion = get_quantity<AmplitudeRatio>(place, "input_distortion");
    if (const auto noise = place.maybe_number("card_noise_dbfs")) {
        simulation.card_noise = DbFs{*noise};
    }
    simulation.mains_voltage = place.maybe_number("mains_voltage_v");
    return simulation;
}

Json bench_json(const BenchFile& bench) {
    Json out;
    out["name"] = bench.name;
    out["path"] = bench.path;
    if (bench.simulated) {
        out["simulated"] = simulation_json(*bench.simulated);
    }
    out["stand_in"] = bench.stand_in;
    Json& card = out["card"];
    card["name"] = bench.card.name;
    card["driver"] = text_of(drivers, bench.card.driver);
    card["device"] = bench.card.device;
    card["rate_hz"] = bench.card.rate.frequency().in<Hertz>();
    card["bits"] = bench.card.bits;
    const auto channels = [&](const char* direction, const sequences::CardChannels& of) {
        if (of.left != 1 || of.right != 2) {
            card[direction] = Json{{"left", of.left}, {"right", of.right}};
        }
    };
    channels("play", bench.card.play);
    channels("record", bench.card.record);
    if (!bench.card.opened.empty()) {
        card["opened"] = bench.card.opened;
    }
    out["source"] = source_json(bench.source);
    if (bench.generator) {
        out["generator"] = source_json(*bench.generator);
    }
    for (const WireEntry& entry : bench.instruments) {
        Json instrument;
        instrument["name"] = entry.name;
        instrument["address"] = entry.address;
        instrument["identity"] = entry.identity;
        out["instruments"].push_back(std::move(instrument));
    }
    Json& ranges = out["ranges"] = Json::array();
    for (const RangeEntry& range : bench.ranges) {
        ranges.push_back(range_json(range));
    }
    Json& loads = out["loads"] = Json::array();
    for (const LoadEntry& load : bench.loads) {
        loads.push_back(load_json(load));
    }
    Json& meters = out["meters"] = Json::array();
    for (const MeterEntry& meter : bench.meters) {
        Json entry;
        entry["name"] = meter.name;
        entry["reads"] = meter.reads;
        meters.push_back(std::move(entry));
    }
    out["flatness_u_k1_db"] = bench.flatness_u_k1_db;
    out["limits"] = limits_json(bench.limits);
    out["sense_grounded"] = bench.sense_grounded;
    out["loop"] = bench.loop;
    out["cut_out"] = bench.cut_out;
    return out;
}

BenchFile get_bench(const JsonPlace& place) {
    BenchFile bench;
    bench.name = place.at("name").text();
    bench.path = place.text_or("path");
    if (const auto simulated = place.find("simulated")) {
        bench.simulated = get_simulation(*simulated);
    }
    bench.stand_in = place.boolean_or("stand_in", false);
    const JsonPlace card = place.at("card");
    bench.card.name = card.at("name").text();
    bench.card.driver = value_at(card.at("driver"), drivers);
    bench.card.device = card.text_or("device");
    bench.card.rate = SampleRate{card.at("rate_hz").number()};
    bench.card.bits = card.at("bits").whole();
    const auto channels = [&](const char* direction, sequences::CardChannels& of) {
        if (const auto chosen = card.find(direction)) {
            of.left = chosen->at("left").whole();
            of.right = chosen->at("right").whole();
        }
    };
    channels("play", bench.card.play);
    channels("record", bench.card.record);
    bench.card.opened = card.text_or("opened");
    bench.source = get_source(place.at("source"));
    if (const auto generator = place.find("generator")) {
        bench.generator = get_source(*generator);
    }
    if (const auto instruments = place.find("instruments")) {
        for (const JsonPlace& entry : instruments->items()) {
            WireEntry instrument;
            instrument.name = entry.at("name").text();
            instrument.address = entry.at("address").text();
            instrument.identity = entry.at("identity").text();
            bench.instruments.push_back(std::move(instrument));
        }
    }
    for (const JsonPlace& entry : place.at("ranges").items()) {
        bench.ranges.push_back(get_range(entry));
    }
    for (const JsonPlace& entry : place.at("loads").items()) {
        bench.loads.push_back(get_load(entry));
    }
    for (const JsonPlace& entry : place.at("meters").items()) {
        MeterEntry meter;
        meter.name = entry.at("name").text();
        meter.reads = entry.at("reads").texts();
        bench.meters.push_back(std::move(meter));
    }
    bench.flatness_u_k1_db = place.at("flatness_u_k1_db").number();
    bench.limits = get_limits(place.at("limits"));
    bench.sense_grounded = place.boolean_or("sense_grounded", true);
    bench.loop = place.text_or("loop", "none");
    bench.cut_out = place.text_or("cut_out", "none");
    return bench;
}

}  // namespace afterload::runner
