#include "analysis/level.hpp"
#include "sequences/bench_keys.hpp"
#include "sequences/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <set>
#include <string>
#include <utility>

namespace afterload::sequences {
namespace {

constexpr std::array<std::string_view, 23> commands{"frequency",
                                                    "level",
                                                    "on",
                                                    "off",
                                                    "is_on",
                                                    "close",
                                                    "open",
                                                    "is_closed",
                                                    "dc_offset",
                                                    "ambient",
                                                    "heat_sink",
                                                    "load_temperature",
                                                    "emitter_voltage",
                                                    "main_rail",
                                                    "tone_rail",
                                                    "mains_voltage",
                                                    "source_voltage",
                                                    "mains_power",
                                                    "load_resistance",
                                                    "resistance",
                                                    "input_on",
                                                    "input_off",
                                                    "is_input_on"};

template <std::size_t i>
void read_command(Reading& reading, const Node& node, CommandTexts& texts) {
    if (auto text = reading.words(node, "the text of a command")) {
        texts[std::string{commands[i]}] = std::move(*text);
    }
}

template <std::size_t... i>
std::vector<Key<CommandTexts>> command_table(std::index_sequence<i...> /*all*/) {
    return {{commands[i], Need::optional, &read_command<i>}...};
}

bool is_address(std::string_view text) {
    return text.starts_with("tcp://") || text.starts_with("serial:") || text.starts_with("usbtmc:");
}

/// `name` stands at `at` and should be one of the file's instruments.
void check_named(Reading& reading, const Node* at, const BenchFile& bench, std::string_view name) {
    if (at == nullptr || name.empty() || find_instrument(bench, name) != nullptr) {
        return;
    }
    std::vector<std::string_view> known;
    for (const WireEntry& entry : bench.instruments) {
        known.push_back(entry.name);
    }
    if (known.empty()) {
        reading.mistake(*at, fmt::format("the file has no instrument “{}”", name),
                        "list it under instruments: with its address");
    } else {
        reading.unknown_word(*at, "an instrument of this file", known);
    }
}

const Node* inside(const Node& root, std::string_view key, std::string_view inner) {
    const Node* const node = root.find(key);
    return node != nullptr && node->kind == Node::Kind::mapping ? node->find(inner) : nullptr;
}

void check_generator(Reading& reading, const Node& root, const BenchFile& bench) {
    const Node* const at = root.find("generator");
    if (at == nullptr || !bench.generator) {
        return;
    }
    check_named(reading, inside(root, "generator", "instrument"), bench,
                bench.generator->instrument);
    const Node* const named = at->find("instrument");
    if (!bench.source.instrument.empty()) {
        reading.mistake(named != nullptr ? *named : *at,
                        "a generator beside a source that is a generator itself",
                        "leave one: source: with instrument: where the card does not play, "
                        "generator: where both do");
    } else if (bench.card.driver == CardEntry::Driver::digitiser) {
        reading.mistake(*at, "a generator beside a digitiser, which does not play",
                        "name it with instrument: under source:");
    } else if (bench.card.driver == CardEntry::Driver::sound_card &&
               bench.generator->instrument.empty()) {
        reading.mistake(*at, "a generator without “instrument”",
                        "add instrument: with its name under instruments:");
    }
    const Node* const relay = at->find("relay");
    if (relay != nullptr && bench.relays.empty() && !bench.generator->instrument.empty()) {
        reading.mistake(*relay, "a relay, and no instrument that has it",
                        "add relays: with the name of the instrument");
    }
}

}  // namespace

const WireEntry* find_instrument(const BenchFile& bench, std::string_view name) {
    for (const WireEntry& entry : bench.instruments) {
        if (entry.name == name) {
            return &entry;
        }
    }
    return nullptr;
}

std::string command_text(const WireEntry& entry, const std::string& name,
                         const std::string& usual) {
    const auto own = entry.commands.find(name);
    return own == entry.commands.end() ? usual : own->second;
}

const LoadEntry* find_load(const BenchFile& bench, Channels channel,
                           std::optional<Ohms> resistance) {
    const auto found =
        std::find_if(bench.loads.begin(), bench.loads.end(), [&](const LoadEntry& load) {
            return (load.channel == channel || load.channel == Channels::both) &&
                   (!resistance || same_load(load.resistance, *resistance));
        });
    return found == bench.loads.end() ? nullptr : &*found;
}

bool is_switched(const LoadEntry& load) {
    return load.relay.has_value() || !load.instrument.empty();
}

std::vector<Ohms> load_kinds(const BenchFile& bench) {
    std::vector<Ohms> kinds;
    for (const LoadEntry& load : bench.loads) {
        const bool known = std::any_of(kinds.begin(), kinds.end(),
                                       [&](Ohms kind) { return same_load(kind, load.resistance); });
        if (!known) {
            kinds.push_back(load.resistance);
        }
    }
    return kinds;
}

const std::vector<std::string_view>& command_names() {
    static const std::vector<std::string_view> names{commands.begin(), commands.end()};
    return names;
}

const KeyTable<CommandTexts>& command_keys() {
    static const KeyTable<CommandTexts> table{
        "a set of command texts", command_table(std::make_index_sequence<commands.size()>{})};
    return table;
}

const KeyTable<WireEntry>& wire_keys() {
    static const KeyTable<WireEntry> table{
        "an instrument",
        {
            {"name", Need::required,
             [](Reading& reading, const Node& node, WireEntry& entry) {
                 store(entry.name, reading.words(node, "a name"));
             }},
            {"address", Need::required,
             [](Reading& reading, const Node& node, WireEntry& entry) {
                 store(entry.address, reading.words(node, "an address"));
                 if (!entry.address.empty() && !is_address(entry.address)) {
                     reading.mistake(node, fmt::format("“{}” is no address", entry.address),
                                     "write tcp://HOST:PORT, serial:/dev/PATH?baud=9600 or "
                                     "usbtmc:/dev/usbtmc0");
                 }
             }},
            {"identity", Need::optional,
             [](Reading& reading, const Node& node, WireEntry& entry) {
                 store(entry.identity, reading.words(node, "an identity"));
             }},
            {"deadline", Need::optional,
             [](Reading& reading, const Node& node, WireEntry& entry) {
                 store(entry.deadline,
                       reading.quantity(node, Dimension::seconds, "a time", {0.05, 60.0}));
             }},
            {"error_queue", Need::optional,
             [](Reading& reading, const Node& node, WireEntry& entry) {
                 store(entry.error_queue,
                       reading.boolean(node, "an answer to whether it has an error queue"));
             }},
            {"commands", Need::optional,
             [](Reading& reading, const Node& node, WireEntry& entry) {
                 read_mapping(reading, node, command_keys(), entry.commands);
             }},
        }};
    return table;
}

const KeyTable<ContactorEntry>& contactor_keys() {
    static const KeyTable<ContactorEntry> table{
        "a contactor",
        {
            {"instrument", Need::required,
             [](Reading& reading, const Node& node, ContactorEntry& entry) {
                 store(entry.instrument, reading.words(node, "the name of an instrument"));
             }},
            {"refresh", Need::required,
             [](Reading& reading, const Node& node, ContactorEntry& entry) {
                 store(entry.refresh, reading.words(node, "the text of a command"));
             }},
            {"release", Need::optional,
             [](Reading& reading, const Node& node, ContactorEntry& entry) {
                 store(entry.release, reading.words(node, "the text of a command"));
             }},
            {"every", Need::optional,
             [](Reading& reading, const Node& node, ContactorEntry& entry) {
                 store(entry.every,
                       reading.quantity(node, Dimension::seconds, "a time", {0.05, 10.0}));
             }},
        }};
    return table;
}

namespace {

bool on_one_channel(const LoadEntry& one, const LoadEntry& other) {
    return one.channel == other.channel || one.channel == Channels::both ||
           other.channel == Channels::both;
}

/// All loads are switched in one way, and each is known from the others of its channel.
void check_loads(Reading& reading, const Node& root, const BenchFile& bench) {
    const Node* const loads = root.find("loads");
    for (std::size_t i = 0; loads != nullptr && i < loads->items.size() && i < bench.loads.size();
         ++i) {
        const LoadEntry& load = bench.loads[i];
        const Node& item = loads->items[i];
        check_named(reading, item.find("instrument"), bench, load.instrument);
        if (load.relay && !load.instrument.empty()) {
            reading.mistake(item, "a load with both a relay and an instrument", "leave one");
            continue;
        }
        const LoadEntry& first = bench.loads.front();
        if (load.relay.has_value() != first.relay.has_value() ||
            load.instrument.empty() != first.instrument.empty()) {
            reading.mistake(item,
                            "a load that is connected in another way than the first: one could "
                            "stay on the unit beside the other",
                            "give all of them a relay, or an instrument, or neither");
        }
        const auto same = std::find_if(
            bench.loads.begin(), bench.loads.begin() + static_cast<std::ptrdiff_t>(i),
            [&](const LoadEntry& other) {
                return on_one_channel(load, other) && same_load(load.resistance, other.resistance);
            });
        if (same != bench.loads.begin() + static_cast<std::ptrdiff_t>(i)) {
            reading.mistake(item, "a load of this resistance stands on this channel already",
                            "leave one: the loads of a channel differ by more than 5 %");
        }
    }
}

}  // namespace

void check_wire(Reading& reading, const Node& root, const BenchFile& bench) {
    std::set<std::string, std::less<>> names;
    if (const Node* const instruments = root.find("instruments")) {
        for (const Node& item : instruments->items) {
            const Node* const name = item.find("name");
            if (name != nullptr && name->kind == Node::Kind::scalar &&
                !names.insert(name->text).second) {
                reading.mistake(*name, "an instrument of this name stands here already",
                                "give each its own");
            }
        }
    }
    check_named(reading, inside(root, "source", "instrument"), bench, bench.source.instrument);
    check_generator(reading, root, bench);
    check_named(reading, root.find("relays"), bench, bench.relays);
    if (bench.contactor) {
        check_named(reading, inside(root, "contactor", "instrument"), bench,
                    bench.contactor->instrument);
    }
    if (bench.card.driver == CardEntry::Driver::digitiser) {
        check_named(reading, inside(root, "card", "device"), bench, bench.card.device);
        if (bench.source.instrument.empty()) {
            if (const Node* const driver = inside(root, "card", "driver")) {
                reading.mistake(*driver,
                                "a digitiser does not play, and the source names no "
                                "instrument that does",
                                "name a generator with instrument: under source:");
            }
        }
    }
    if (const Node* const meters = root.find("meters")) {
        for (std::size_t i = 0; i < meters->items.size() && i < bench.meters.size(); ++i) {
            check_named(reading, meters->items[i].find("instrument"), bench,
                        bench.meters[i].instrument);
            if (!bench.meters[i].instrument.empty() && !bench.meters[i].file.empty()) {
                reading.mistake(meters->items[i], "a meter with both an instrument and a file",
                                "leave one");
            }
        }
    }
    check_loads(reading, root, bench);
    for (const char* const list : {"ranges", "loads"}) {
        const Node* const items = root.find(list);
        for (std::size_t i = 0; items != nullptr && i < items->items.size(); ++i) {
            const Node* const relay = items->items[i].find("relay");
            if (relay != nullptr && bench.relays.empty()) {
                reading.mistake(*relay, "a relay, and no instrument that has it",
                                "add relays: with the name of the instrument");
            }
        }
    }
}

}  // namespace afterload::sequences
