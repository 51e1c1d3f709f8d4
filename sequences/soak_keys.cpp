#include "sequences/soak_keys.hpp"

#include "sequences/step_keys.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

namespace afterload::sequences {

namespace {

constexpr Range duration_range{60.0, 14.0 * 86400.0};
constexpr Range soak_tone_range{20.0, 20e3};
constexpr Range interval_range{10.0, 86400.0};
constexpr Range regulate_range{0.0, 3600.0};
constexpr Range limit_range{0.0, 1e6};
constexpr double shortest_regulation = 10.0;  // below that it would follow the unit's own faults

constexpr std::array limit_table{
    SoakLimitName{"offset", Dimension::volts_dc},
    SoakLimitName{"offset_step", Dimension::volts_dc},
    SoakLimitName{"level_drift", Dimension::decibels},
    SoakLimitName{"level_step", Dimension::decibels},
    SoakLimitName{"channel_difference", Dimension::decibels},
    SoakLimitName{"dropout", Dimension::seconds},
    SoakLimitName{"distortion_ratio", Dimension::number},
    SoakLimitName{"hum_rise", Dimension::decibels},
    SoakLimitName{"noise_rise", Dimension::decibels},
    SoakLimitName{"quiescent_ratio", Dimension::number},
    SoakLimitName{"mains_power_ratio", Dimension::number},
    SoakLimitName{"mains_power_fall", Dimension::ratio},
    SoakLimitName{"mains_voltage_away", Dimension::ratio},
    SoakLimitName{"relay_clicks", Dimension::number},
    SoakLimitName{"events_an_hour", Dimension::number},
    SoakLimitName{"heat_sink", Dimension::celsius, false},
    SoakLimitName{"heat_sink_rise", Dimension::kelvin_per_minute, false},
    SoakLimitName{"load_temperature", Dimension::celsius, false},
    SoakLimitName{"ambient", Dimension::celsius, false}};

const KeyTable<SineWindow>& sine_window_keys() {
    static const KeyTable<SineWindow> table{
        "a sine window",
        {
            {"every", Need::required,
             [](Reading& reading, const Node& node, SineWindow& window) {
                 store(window.every,
                       reading.quantity(node, Dimension::seconds, "an interval", interval_range));
             }},
            {"lasts", Need::required,
             [](Reading& reading, const Node& node, SineWindow& window) {
                 store(window.lasts,
                       reading.quantity(node, Dimension::seconds, "a length", {2.0, 3600.0}));
             }},
        }};
    return table;
}

const KeyTable<OnOffCycle>& cycle_keys() {
    static const KeyTable<OnOffCycle> table{
        "a cycle",
        {
            {"on", Need::required,
             [](Reading& reading, const Node& node, OnOffCycle& cycle) {
                 store(cycle.on,
                       reading.quantity(node, Dimension::seconds, "a time driven", interval_range));
             }},
            {"off", Need::required,
             [](Reading& reading, const Node& node, OnOffCycle& cycle) {
                 store(cycle.off,
                       reading.quantity(node, Dimension::seconds, "a time silent", interval_range));
             }},
        }};
    return table;
}

// The values of a limit are read when its quantity, and so their dimension, is known.
struct LimitText {
    const Node* flag = nullptr;
    const Node* hold = nullptr;
    const Node* kill = nullptr;
};

const KeyTable<LimitText>& limit_keys() {
    static const KeyTable<LimitText> table{
        "a limit",
        {
            {"flag", Need::optional,
             [](Reading&, const Node& node, LimitText& limit) { limit.flag = &node; }},
            {"hold", Need::optional,
             [](Reading&, const Node& node, LimitText& limit) { limit.hold = &node; }},
            {"kill", Need::optional,
             [](Reading&, const Node& node, LimitText& limit) { limit.kill = &node; }},
        }};
    return table;
}

void read_limit(Reading& reading, const Node& node, const SoakLimitName& known,
                std::vector<SoakLimitEntry>& into) {
    LimitText text;
    if (!read_mapping(reading, node, limit_keys(), text)) {
        return;
    }
    SoakLimitEntry entry;
    entry.quantity = known.name;
    entry.place = node.place;
    const std::string noun = fmt::format("a limit of {}", known.name);
    const auto value = [&](const Node* from, std::optional<double>& to) {
        if (from != nullptr) {
            store(to, reading.quantity(*from, known.dimension, noun, limit_range));
        }
    };
    value(text.flag, entry.flag);
    value(text.hold, entry.hold);
    value(text.kill, entry.kill);
    if (text.hold != nullptr && !known.holds) {
        reading.mistake(*text.hold, "a temperature is flagged, or everything is turned off",
                        "write flag: or kill:");
    }
    const std::array<std::pair<const Node*, std::optional<double>>, 3> rising{
        {{text.flag, entry.flag}, {text.hold, entry.hold}, {text.kill, entry.kill}}};
    std::optional<double> below;
    for (const auto& [at, reached] : rising) {
        if (reached && below && *reached < *below) {
            reading.mistake(*at, "a graver reaction comes at a lower value than a lighter one",
                            "flag first, then hold, then kill");
        }
        below = reached ? reached : below;
    }
    into.push_back(std::move(entry));
}

template <std::size_t I>
void read_limit_of(Reading& reading, const Node& node, std::vector<SoakLimitEntry>& into) {
    read_limit(reading, node, limit_table[I], into);
}

template <std::size_t... I>
std::vector<Key<std::vector<SoakLimitEntry>>> keys_of_limits(std::index_sequence<I...> /*each*/) {
    return {
        Key<std::vector<SoakLimitEntry>>{limit_table[I].name, Need::optional, read_limit_of<I>}...};
}

const KeyTable<std::vector<SoakLimitEntry>>& limits_keys() {
    static const KeyTable<std::vector<SoakLimitEntry>> table{
        "a set of limits", keys_of_limits(std::make_index_sequence<limit_table.size()>{})};
    return table;
}

// Nobody is there to turn a knob or to answer.
void check_nested(Reading& reading, const Node& node, const Step& step) {
    const auto refuse = [&](std::string_view key, std::string_view what) {
        const Node* const found = node.find(key);
        reading.mistake(found != nullptr ? *found : node,
                        fmt::format("{} within a soak: nobody is there", what),
                        "take it out, or measure it before or after the soak");
    };
    if (step.prompt) {
        refuse("prompt", "a prompt");
    }
    if (!step.for_each.volumes.empty() || !step.for_each.tone_controls.empty()) {
        refuse("for_each", "a control that is turned by hand");
    }
    if (step.soak) {
        reading.mistake(*node.find("soak"), "a soak within a soak", "take it out");
    }
}

const KeyTable<Remeasured>& remeasured_keys() {
    static const KeyTable<Remeasured> table{
        "a set of steps to measure again",
        {
            {"every", Need::optional,
             [](Reading& reading, const Node& node, Remeasured& again) {
                 store(again.every,
                       reading.quantity(node, Dimension::seconds, "an interval", interval_range));
             }},
            {"at", Need::optional,
             [](Reading& reading, const Node& node, Remeasured& again) {
                 if (!reading.is_list(node, "a list of moments")) {
                     return;
                 }
                 for (const Node& item : node.items) {
                     const auto moment =
                         reading.word<bool Remeasured::*>(item, "a moment of a soak",
                                                          {{"start", &Remeasured::at_start},
                                                           {"end", &Remeasured::at_end},
                                                           {"hot", &Remeasured::hot}});
                     if (moment) {
                         again.*(*moment) = true;
                     }
                 }
             }},
            {"steps", Need::required,
             [](Reading& reading, const Node& node, Remeasured& again) {
                 if (!reading.is_list(node, "a list of steps")) {
                     return;
                 }
                 if (node.items.empty()) {
                     reading.mistake(node, "nothing to measure again", "add a step");
                 }
                 for (const Node& item : node.items) {
                     if (auto step = read_step(reading, item)) {
                         check_nested(reading, item, *step);
                         again.steps.push_back(std::move(*step));
                     }
                 }
             }},
        }};
    return table;
}

const KeyTable<Soak>& soak_keys() {
    static const KeyTable<Soak> table{
        "a soak",
        {
            {"duration", Need::required,
             [](Reading& reading, const Node& node, Soak& soak) {
                 store(soak.duration,
                       reading.quantity(node, Dimension::seconds, "a duration", duration_range));
             }},
            {"level", Need::optional,
             [](Reading& reading, const Node& node, Soak& soak) {
                 const auto level = reading.level(node, LevelUse::step, "a level");
                 if (level && is_drive(*level)) {
                     reading.mistake(node,
                                     "a soak is driven to an output, whatever drive that takes",
                                     "write 1/8 rated, or so many W");
                 }
                 store(soak.level, level);
             }},
            {"signal", Need::optional,
             [](Reading& reading, const Node& node, Soak& soak) {
                 store(soak.signal,
                       reading.word<SoakSignal>(node, "a signal of a soak",
                                                {{"sine", SoakSignal::sine},
                                                 {"pink_noise", SoakSignal::pink_noise},
                                                 {"file", SoakSignal::file}}));
             }},
            {"frequency", Need::optional,
             [](Reading& reading, const Node& node, Soak& soak) {
                 store(soak.frequency,
                       reading.quantity(node, Dimension::hertz, "a frequency", soak_tone_range));
             }},
            {"sine_window", Need::optional,
             [](Reading& reading, const Node& node, Soak& soak) {
                 SineWindow window;
                 if (read_mapping(reading, node, sine_window_keys(), window)) {
                     soak.sine_window = window;
                 }
             }},
            {"file", Need::optional,
             [](Reading& reading, const Node& node, Soak& soak) {
                 store(soak.file, reading.words(node, "the path of a WAV file"));
             }},
            {"cycle", Need::optional,
             [](Reading& reading, const Node& node, Soak& soak) {
                 OnOffCycle cycle;
                 if (read_mapping(reading, node, cycle_keys(), cycle)) {
                     soak.cycle = cycle;
                 }
             }},
            {"regulate", Need::optional,
             [](Reading& reading, const Node& node, Soak& soak) {
                 const auto interval =
                     reading.quantity(node, Dimension::seconds, "an interval", regulate_range);
                 if (interval && *interval > 0.0 && *interval < shortest_regulation) {
                     reading.mistake(node, "a regulation so fast would hide what the unit does",
                                     "write 10 s or more, or 0 s for none");
                 }
                 store(soak.regulate, interval);
             }},
            {"retries", Need::optional,
             [](Reading& reading, const Node& node, Soak& soak) {
                 store(soak.retries, reading.integer(node, "a number of retries", 0, 1));
             }},
            {"limits", Need::optional,
             [](Reading& reading, const Node& node, Soak& soak) {
                 read_mapping(reading, node, limits_keys(), soak.limits);
             }},
            {"remeasure", Need::optional,
             [](Reading& reading, const Node& node, Soak& soak) {
                 if (!reading.is_list(node, "a list of what is measured again")) {
                     return;
                 }
                 for (const Node& item : node.items) {
                     Remeasured again;
                     again.place = item.place;
                     if (!read_mapping(reading, item, remeasured_keys(), again)) {
                         continue;
                     }
                     if (!again.every && !again.at_start && !again.at_end && !again.hot) {
                         reading.mistake(item, "steps to measure again, and no word of when",
                                         "add every: 30 min, or at: [start, end, hot]");
                     }
                     soak.remeasure.push_back(std::move(again));
                 }
             }},
        }};
    return table;
}

// What stands in a soak against each other.
void check_together(Reading& reading, const Node& node, const Soak& soak) {
    const auto at = [&](std::string_view key) -> const Node& {
        const Node* const found = node.find(key);
        return found != nullptr ? *found : node;
    };
    if (soak.signal == SoakSignal::file && soak.file.empty()) {
        reading.mistake(at("signal"), "a file is to be played, and none is named", "add file:");
    }
    if (soak.signal != SoakSignal::file && !soak.file.empty()) {
        reading.mistake(at("file"), fmt::format("a file beside {}", in_words(soak.signal)),
                        "write signal: file, or take it out");
    }
    if (soak.sine_window && soak.signal == SoakSignal::sine) {
        reading.mistake(at("sine_window"), "a sine window in a sine",
                        "write signal: pink_noise, or take it out");
    }
    if (soak.sine_window && soak.sine_window->lasts >= soak.sine_window->every) {
        reading.mistake(at("sine_window"), "a sine window that lasts as long as it comes often",
                        "write every: 10 min, lasts: 60 s");
    }
    for (const Remeasured& again : soak.remeasure) {
        // A duration that could not be read has been told of already.
        if (again.every && soak.duration > Seconds{0.0} && *again.every > soak.duration) {
            reading.mistake(
                at("remeasure"),
                fmt::format("measured again every {:.6g} min, in a soak of {:.6g} min",
                            again.every->in<Seconds>() / 60.0, soak.duration.in<Seconds>() / 60.0),
                "shorten the interval, or write at: [start, end]");
        }
    }
}

}  // namespace

std::string_view name(SoakSignal signal) {
    switch (signal) {
        case SoakSignal::sine:
            return "sine";
        case SoakSignal::pink_noise:
            return "pink_noise";
        case SoakSignal::file:
            return "file";
    }
    return "";
}

std::string in_words(SoakSignal signal) {
    switch (signal) {
        case SoakSignal::sine:
            return "a sine";
        case SoakSignal::pink_noise:
            return "pink noise";
        case SoakSignal::file:
            return "a file";
    }
    return {};
}

std::span<const SoakLimitName> soak_limit_names() {
    return limit_table;
}

std::shared_ptr<const Soak> read_soak(Reading& reading, const Node& node) {
    auto soak = std::make_shared<Soak>();
    if (node.kind == Node::Kind::scalar) {
        const auto duration =
            reading.quantity(node, Dimension::seconds, "a duration", duration_range);
        if (!duration) {
            return nullptr;
        }
        soak->duration = Seconds{*duration};
        return soak;
    }
    if (!read_mapping(reading, node, soak_keys(), *soak)) {
        return nullptr;
    }
    for (const Entry& entry : node.entries) {
        soak->places[entry.key] = entry.value.place;
    }
    check_together(reading, node, *soak);
    return soak;
}

void check_soak(Reading& reading, const Node& step_node) {
    for (const std::string_view key :
         {"signal", "frequency", "tones", "band", "level", "for_each", "record", "dwell"}) {
        if (const Node* const own = step_node.find(key)) {
            reading.mistake(*own, fmt::format("{} beside a soak", key),
                            key == "signal" || key == "frequency" || key == "level"
                                ? "write it within soak:"
                                : "take it out, or write it in a step within remeasure:");
        }
    }
}

std::vector<KeyList> soak_key_lists() {
    return {key_list("soak", soak_keys()),        key_list("sine_window", sine_window_keys()),
            key_list("cycle", cycle_keys()),      key_list("soak_limits", limits_keys()),
            key_list("soak_limit", limit_keys()), key_list("remeasured", remeasured_keys())};
}

}  // namespace afterload::sequences
