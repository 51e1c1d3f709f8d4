#include "sequences/bench_reader.hpp"

#include "sequences/bench_keys.hpp"
#include "sequences/key_lists.hpp"
#include "sequences/reading.hpp"
#include "sequences/sequence_reader.hpp"
#include "sequences/words.hpp"

#include <set>
#include <utility>

namespace afterload::sequences {

namespace {

template <int CardChannels::*Member>
void channel_into(Reading& reading, const Node& node, CardChannels& channels) {
    store(channels.*Member, reading.integer(node, "a channel of the card", 1, 8));
}

const KeyTable<CardChannels>& card_channel_keys() {
    static const KeyTable<CardChannels> table{
        "channels of a card",
        {{"left", Need::required, channel_into<&CardChannels::left>},
         {"right", Need::required, channel_into<&CardChannels::right>}}};
    return table;
}

template <CardChannels CardEntry::*Member>
void channels_into(Reading& reading, const Node& node, CardEntry& card) {
    CardChannels& channels = card.*Member;
    if (read_mapping(reading, node, card_channel_keys(), channels) &&
        channels.left == channels.right) {
        reading.mistake(node, "left and right on one channel of the card",
                        "name two channels that differ");
    }
}

const KeyTable<CardEntry>& card_keys() {
    static const KeyTable<CardEntry> table{
        "a card",
        {
            {"name", Need::optional,
             [](Reading& reading, const Node& node, CardEntry& card) {
                 store(card.name, reading.words(node, "a name"));
             }},
            {"driver", Need::required,
             [](Reading& reading, const Node& node, CardEntry& card) {
                 store(card.driver, reading.word<CardEntry::Driver>(
                                        node, "a driver",
                                        {{"simulated", CardEntry::Driver::simulated},
                                         {"sound_card", CardEntry::Driver::sound_card},
                                         {"digitiser", CardEntry::Driver::digitiser}}));
             }},
            {"device", Need::optional,
             [](Reading& reading, const Node& node, CardEntry& card) {
                 store(card.device, reading.words(node, "a device"));
             }},
            {"rate", Need::required,
             [](Reading& reading, const Node& node, CardEntry& card) {
                 store(card.rate,
                       reading.quantity(node, Dimension::hertz, "a sample rate", {8e3, 768e3}));
             }},
            {"bits", Need::optional,
             [](Reading& reading, const Node& node, CardEntry& card) {
                 store(card.bits, reading.integer(node, "a number of bits", 16, 32));
             }},
            {"play", Need::optional, channels_into<&CardEntry::play>},
            {"record", Need::optional, channels_into<&CardEntry::record>},
        }};
    return table;
}

const KeyTable<SourceEntry>& source_keys() {
    static const KeyTable<SourceEntry> table{
        "a source",
        {
            {"full_scale", Need::required,
             [](Reading& reading, const Node& node, SourceEntry& source) {
                 store(source.full_scale, reading.quantity(node, Dimension::volts,
                                                           "a full-scale level", {1e-3, 100.0}));
             }},
            {"impedance", Need::optional,
             [](Reading& reading, const Node& node, SourceEntry& source) {
                 store(source.impedance,
                       reading.quantity(node, Dimension::ohms, "an impedance", {0.0, 1e6}));
             }},
            {"level_uncertainty", Need::optional,
             [](Reading& reading, const Node& node, SourceEntry& source) {
                 store(source.level_u_k1, reading.quantity(node, Dimension::ratio, "an uncertainty",
                                                           uncertainty_range));
             }},
            {"instrument", Need::optional,
             [](Reading& reading, const Node& node, SourceEntry& source) {
                 store(source.instrument, reading.words(node, "the name of an instrument"));
             }},
            {"calibrated", Need::optional,
             [](Reading& reading, const Node& node, SourceEntry& source) {
                 if (const auto day = reading.date(node, "a date")) {
                     source.calibration_id = "source " + *day;
                 }
             }},
        }};
    return table;
}

const KeyTable<SourceEntry>& generator_keys() {
    static const KeyTable<SourceEntry> table = [] {
        KeyTable<SourceEntry> keys = source_keys();
        keys.noun = "a generator";
        keys.keys.push_back({"distortion", Need::optional,
                             [](Reading& reading, const Node& node, SourceEntry& generator) {
                                 generator.distortion = ratio_in(reading, node, "a distortion");
                             }});
        keys.keys.push_back({"relay", Need::optional,
                             [](Reading& reading, const Node& node, SourceEntry& generator) {
                                 store(generator.relay,
                                       reading.integer(node, "the number of a relay", 0, 99999));
                             }});
        return keys;
    }();
    return table;
}

}  // namespace

const KeyTable<OwnDistortion>& own_distortion_keys() {
    static const KeyTable<OwnDistortion> table{
        "a finding of own distortion",
        {
            {"at", Need::required,
             [](Reading& reading, const Node& node, OwnDistortion& own) {
                 store(own.at, reading.quantity(node, Dimension::volts, "a level", volts_range));
             }},
            {"source", Need::required,
             [](Reading& reading, const Node& node, OwnDistortion& own) {
                 store(own.source,
                       reading.quantity(node, Dimension::ratio, "a distortion", ratio_range));
             }},
            {"input", Need::required,
             [](Reading& reading, const Node& node, OwnDistortion& own) {
                 store(own.input,
                       reading.quantity(node, Dimension::ratio, "a distortion", ratio_range));
             }},
        }};
    return table;
}

namespace {

std::optional<Switching> read_switching(Reading& reading, const Node& node) {
    return reading.word<Switching>(node, "a way of switching",
                                   {{"fixed", Switching::fixed},
                                    {"relay", Switching::relay},
                                    {"by_hand", Switching::by_hand}});
}

const KeyTable<RangeEntry>& range_keys() {
    static const KeyTable<RangeEntry> table{
        "a range",
        {
            {"name", Need::required,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 store(range.name, reading.words(node, "a name"));
             }},
            {"full_scale", Need::required,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 store(range.full_scale, reading.quantity(node, Dimension::volts_peak,
                                                          "a full-scale peak", peak_range));
             }},
            {"safe", Need::required,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 store(range.safe,
                       reading.quantity(node, Dimension::volts_peak, "a safe peak", peak_range));
             }},
            {"switched", Need::optional,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 store(range.switched, read_switching(reading, node));
             }},
            {"relay", Need::optional,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 store(range.relay, reading.integer(node, "the number of a relay", 0, 99999));
             }},
            {"level_uncertainty", Need::optional,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 store(range.level_u_k1, reading.quantity(node, Dimension::ratio, "an uncertainty",
                                                          uncertainty_range));
             }},
            {"balance_uncertainty", Need::optional,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 store(range.balance_u_k1, reading.quantity(node, Dimension::ratio,
                                                            "an uncertainty", uncertainty_range));
             }},
            {"calibrated", Need::required,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 store(range.calibrated, reading.date(node, "a date"));
             }},
            {"own_noise", Need::optional,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 store(range.own_noise,
                       reading.quantity(node, Dimension::volts, "a noise", volts_range));
             }},
            {"own_noise_a", Need::optional,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 store(range.own_noise_a,
                       reading.quantity(node, Dimension::volts, "a noise", volts_range));
             }},
            {"own_hum", Need::optional,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 store(range.own_hum,
                       reading.quantity(node, Dimension::volts, "a hum", volts_range));
             }},
            {"own_separation", Need::optional,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 range.own_separation = ratio_in(reading, node, "a leak");
             }},
            {"own_distortion", Need::optional,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 read_each(reading, node, "a list of findings", own_distortion_keys(),
                           range.own_distortion);
             }},
            {"own_found", Need::optional,
             [](Reading& reading, const Node& node, RangeEntry& range) {
                 store(range.own_found, reading.date(node, "a date"));
             }},
        }};
    return table;
}

const KeyTable<LoadEntry>& load_keys() {
    static const KeyTable<LoadEntry> table{
        "a load",
        {
            {"channel", Need::required,
             [](Reading& reading, const Node& node, LoadEntry& load) {
                 store(load.channel, read_channels(reading, node));
             }},
            {"resistance", Need::required,
             [](Reading& reading, const Node& node, LoadEntry& load) {
                 store(load.resistance,
                       reading.quantity(node, Dimension::ohms, "a load", load_range));
             }},
            {"uncertainty", Need::optional,
             [](Reading& reading, const Node& node, LoadEntry& load) {
                 store(load.u_k1, reading.quantity(node, Dimension::ratio, "an uncertainty",
                                                   uncertainty_range));
             }},
            {"continuous", Need::required,
             [](Reading& reading, const Node& node, LoadEntry& load) {
                 store(load.continuous,
                       reading.quantity(node, Dimension::watts, "a power", watts_range));
             }},
            {"short_term", Need::optional,
             [](Reading& reading, const Node& node, LoadEntry& load) {
                 store(load.short_term,
                       reading.quantity(node, Dimension::watts, "a power", watts_range));
             }},
            {"short_time", Need::optional,
             [](Reading& reading, const Node& node, LoadEntry& load) {
                 store(load.short_time,
                       reading.quantity(node, Dimension::seconds, "a time", {0.1, 86400.0}));
             }},
            {"temperature_coefficient", Need::optional,
             [](Reading& reading, const Node& node, LoadEntry& load) {
                 store(load.temperature_coefficient,
                       reading.quantity(node, Dimension::per_kelvin, "a temperature coefficient",
                                        {-0.01, 0.01}));
             }},
            {"heat_uncertainty", Need::optional,
             [](Reading& reading, const Node& node, LoadEntry& load) {
                 store(load.heat_u_k1, reading.quantity(node, Dimension::ratio, "an uncertainty",
                                                        uncertainty_range));
             }},
            {"relay", Need::optional,
             [](Reading& reading, const Node& node, LoadEntry& load) {
                 store(load.relay, reading.integer(node, "the number of a relay", 0, 99999));
             }},
            {"instrument", Need::optional,
             [](Reading& reading, const Node& node, LoadEntry& load) {
                 store(load.instrument, reading.words(node, "the name of an instrument"));
             }},
            {"measured", Need::required,
             [](Reading& reading, const Node& node, LoadEntry& load) {
                 store(load.measured, reading.date(node, "a date"));
             }},
        }};
    return table;
}

const KeyTable<MeterEntry>& meter_keys() {
    static const KeyTable<MeterEntry> table{
        "a meter",
        {
            {"name", Need::required,
             [](Reading& reading, const Node& node, MeterEntry& meter) {
                 store(meter.name, reading.words(node, "a name"));
             }},
            {"reads", Need::required,
             [](Reading& reading, const Node& node, MeterEntry& meter) {
                 if (!reading.is_list(node, "a list of what it reads")) {
                     return;
                 }
                 for (const Node& item : node.items) {
                     if (auto quantity =
                             reading.word_of(item, "something a meter reads", meter_quantities())) {
                         meter.reads.push_back(std::move(*quantity));
                     }
                 }
             }},
            {"instrument", Need::optional,
             [](Reading& reading, const Node& node, MeterEntry& meter) {
                 store(meter.instrument, reading.words(node, "the name of an instrument"));
             }},
            {"file", Need::optional,
             [](Reading& reading, const Node& node, MeterEntry& meter) {
                 store(meter.file, reading.words(node, "a file of the system's sensors"));
             }},
            {"uncertainty", Need::optional,
             [](Reading& reading, const Node& node, MeterEntry& meter) {
                 store(meter.u_k1, reading.quantity(node, Dimension::ratio, "an uncertainty",
                                                    uncertainty_range));
             }},
        }};
    return table;
}

const KeyTable<HouseLimits>& limit_keys() {
    static const KeyTable<HouseLimits> table{
        "a set of limits",
        {
            {"largest_drive", Need::optional,
             [](Reading& reading, const Node& node, HouseLimits& limits) {
                 store(limits.largest_drive,
                       reading.quantity(node, Dimension::volts, "a drive", {1e-3, 100.0}));
             }},
            {"largest_output", Need::optional,
             [](Reading& reading, const Node& node, HouseLimits& limits) {
                 store(limits.largest_output,
                       reading.quantity(node, Dimension::watts, "an output", watts_range));
             }},
            {"heat_sink", Need::optional,
             [](Reading& reading, const Node& node, HouseLimits& limits) {
                 store(limits.heat_sink,
                       reading.quantity(node, Dimension::celsius, "a temperature", celsius_range));
             }},
            {"load", Need::optional,
             [](Reading& reading, const Node& node, HouseLimits& limits) {
                 store(limits.load,
                       reading.quantity(node, Dimension::celsius, "a temperature", celsius_range));
             }},
        }};
    return table;
}

struct BenchText {
    BenchFile bench;
    std::vector<FaultText> faults;
};

const KeyTable<BenchText>& bench_keys() {
    static const KeyTable<BenchText> table{
        "a bench",
        {
            {"afterload", Need::required, [](Reading&, const Node&, BenchText&) {}},
            {"name", Need::required,
             [](Reading& reading, const Node& node, BenchText& text) {
                 store(text.bench.name, reading.words(node, "a name"));
             }},
            {"simulated", Need::optional,
             [](Reading& reading, const Node& node, BenchText& text) {
                 SimulationText simulation;
                 if (read_mapping(reading, node, simulation_keys(), simulation)) {
                     text.bench.simulated = std::move(simulation.entry);
                     text.faults = std::move(simulation.faults);
                 }
             }},
            {"stand_in", Need::optional,
             [](Reading& reading, const Node& node, BenchText& text) {
                 store(text.bench.stand_in,
                       reading.boolean(node, "an answer to whether an audio server stands in"));
             }},
            {"card", Need::required,
             [](Reading& reading, const Node& node, BenchText& text) {
                 read_mapping(reading, node, card_keys(), text.bench.card);
             }},
            {"source", Need::required,
             [](Reading& reading, const Node& node, BenchText& text) {
                 read_mapping(reading, node, source_keys(), text.bench.source);
             }},
            {"generator", Need::optional,
             [](Reading& reading, const Node& node, BenchText& text) {
                 SourceEntry generator;
                 if (read_mapping(reading, node, generator_keys(), generator)) {
                     if (!generator.calibration_id.empty()) {
                         generator.calibration_id.replace(0, std::string_view{"source"}.size(),
                                                          "generator");
                     }
                     text.bench.generator = std::move(generator);
                 }
             }},
            {"ranges", Need::required,
             [](Reading& reading, const Node& node, BenchText& text) {
                 read_each(reading, node, "a list of ranges", range_keys(), text.bench.ranges);
             }},
            {"loads", Need::required,
             [](Reading& reading, const Node& node, BenchText& text) {
                 read_each(reading, node, "a list of loads", load_keys(), text.bench.loads);
             }},
            {"meters", Need::optional,
             [](Reading& reading, const Node& node, BenchText& text) {
                 read_each(reading, node, "a list of meters", meter_keys(), text.bench.meters);
             }},
            {"instruments", Need::optional,
             [](Reading& reading, const Node& node, BenchText& text) {
                 read_each(reading, node, "a list of instruments", wire_keys(),
                           text.bench.instruments);
             }},
            {"relays", Need::optional,
             [](Reading& reading, const Node& node, BenchText& text) {
                 store(text.bench.relays, reading.words(node, "the name of an instrument"));
             }},
            {"contactor", Need::optional,
             [](Reading& reading, const Node& node, BenchText& text) {
                 ContactorEntry contactor;
                 if (read_mapping(reading, node, contactor_keys(), contactor)) {
                     text.bench.contactor = std::move(contactor);
                 }
             }},
            {"limits", Need::optional,
             [](Reading& reading, const Node& node, BenchText& text) {
                 read_mapping(reading, node, limit_keys(), text.bench.limits);
             }},
            {"sense", Need::required,
             [](Reading& reading, const Node& node, BenchText& text) {
                 store(text.bench.sense_grounded,
                       reading.word<bool>(node, "a kind of sense",
                                          {{"grounded", true}, {"floating", false}}));
             }},
            {"loop", Need::optional,
             [](Reading& reading, const Node& node, BenchText& text) {
                 store(text.bench.loop,
                       reading.word_of(node, "a kind of loop", {"none", "by_hand", "switched"}));
             }},
            {"rig", Need::optional,
             [](Reading& reading, const Node& node, BenchText& text) {
                 store(text.bench.rig, reading.words(node, "the path of a rig file"));
             }},
            {"cut_out", Need::optional,
             [](Reading& reading, const Node& node, BenchText& text) {
                 store(text.bench.cut_out, reading.words(node, "a cut-out"));
             }},
        }};
    return table;
}

// What only holds together: each is said at the value that would have to change.
void check_together(Reading& reading, const Node& root, const BenchFile& bench) {
    if (const Node* const ranges = root.find("ranges")) {
        if (ranges->kind == Node::Kind::list && ranges->items.empty()) {
            reading.mistake(*ranges, "a bench without a range", "add at least one range");
        }
        std::set<std::string, std::less<>> names;
        for (const Node& item : ranges->items) {
            const Node* const name = item.find("name");
            if (name != nullptr && name->kind == Node::Kind::scalar &&
                !names.insert(name->text).second) {
                reading.mistake(*name, "a range of this name stands here already",
                                "give each range its own");
            }
        }
    }
    if (const Node* const loads = root.find("loads")) {
        for (const Node& item : loads->items) {
            const bool term = item.find("short_term") != nullptr;
            const bool time = item.find("short_time") != nullptr;
            if (term != time) {
                reading.mistake(item, "a load with only one of short_term and short_time",
                                "state both, or neither");
            }
        }
    }
    const Node* const card = root.find("card");
    if (card == nullptr || card->kind != Node::Kind::mapping) {
        return;
    }
    const bool simulated_card = bench.card.driver == CardEntry::Driver::simulated;
    const Node* const driver = card->find("driver");
    if (driver != nullptr && driver->text == "simulated" && root.find("simulated") == nullptr) {
        reading.mistake(*driver, "a simulated card on a bench that simulates nothing",
                        "add simulated:, or name a sound_card");
    }
    for (const char* direction : {"play", "record"}) {
        const Node* const channels = card->find(direction);
        if (channels != nullptr && bench.card.driver != CardEntry::Driver::sound_card) {
            reading.mistake(*channels, "channels are chosen of a sound card alone",
                            "leave it out: 1 is left and 2 right");
        }
    }
    if (driver != nullptr && !simulated_card && bench.card.device.empty() &&
        card->find("device") == nullptr) {
        reading.mistake(*driver, "a card without “device”", "add device:");
    }
}

}  // namespace

tl::expected<BenchFile, Diagnostics> read_bench(std::string_view text, std::string path,
                                                std::span<const std::string_view> known_faults) {
    const std::string kept = path;
    return read_file<BenchFile>(
        text, std::move(path), "bench/1", [&](Reading& reading, const Node& root, BenchFile& out) {
            BenchText bench;
            read_mapping(reading, root, bench_keys(), bench);
            const std::vector<std::string_view> known{known_faults.begin(), known_faults.end()};
            for (FaultText& fault : bench.faults) {
                if (!known.empty() && fault.name != nullptr && !fault.entry.fault.empty()) {
                    (void)reading.word_of(*fault.name, "a fault that can be simulated", known);
                }
                if (bench.bench.simulated) {
                    bench.bench.simulated->faults.push_back(std::move(fault.entry));
                }
            }
            check_together(reading, root, bench.bench);
            check_wire(reading, root, bench.bench);
            out = std::move(bench.bench);
            out.path = kept;
        });
}

std::vector<KeyList> bench_key_lists() {
    return {
        key_list("bench", bench_keys()),         key_list("simulated", simulation_keys()),
        key_list("seeds", seed_keys()),          key_list("left_wrong", left_wrong_keys()),
        key_list("fault", fault_keys()),         key_list("rig", rig_keys()),
        key_list("card", card_keys()),           key_list("card_channels", card_channel_keys()),
        key_list("source", source_keys()),       key_list("generator", generator_keys()),
        key_list("range", range_keys()),         key_list("own_distortion", own_distortion_keys()),
        key_list("load", load_keys()),           key_list("meter", meter_keys()),
        key_list("instrument", wire_keys()),     key_list("commands", command_keys()),
        key_list("contactor", contactor_keys()), key_list("limits", limit_keys())};
}

}  // namespace afterload::sequences
