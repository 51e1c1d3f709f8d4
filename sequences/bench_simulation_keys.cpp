#include "sequences/bench_keys.hpp"
#include "sequences/words.hpp"

namespace afterload::sequences {

namespace {

/// A control and the words for the places it can be left in.
template <class... Words>
void left_at(Reading& reading, const Node& node, LeftWrong& left, std::string_view control,
             Words... words) {
    if (auto position = reading.word_of(node, "a position of this control", {words...})) {
        left.push_back({std::string{control}, *std::move(position)});
    }
}

/// A control that is left so many decibels off.
void left_off(Reading& reading, const Node& node, LeftWrong& left, std::string_view control,
              Range range) {
    if (const auto decibels = reading.quantity(node, Dimension::decibels, "a position", range)) {
        left.push_back({std::string{control}, quantity_text(*decibels, Dimension::decibels)});
    }
}

}  // namespace

std::optional<AmplitudeRatio> ratio_in(Reading& reading, const Node& node, std::string_view noun) {
    std::optional<AmplitudeRatio> ratio;
    store(ratio, reading.quantity(node, Dimension::ratio, noun, ratio_range));
    return ratio;
}

const KeyTable<Seeds>& seed_keys() {
    static const KeyTable<Seeds> table{"a set of seeds",
                                       {
                                           {"unit", Need::optional,
                                            [](Reading& reading, const Node& node, Seeds& seeds) {
                                                store(seeds.unit, reading.count(node, "a seed"));
                                            }},
                                           {"rig", Need::optional,
                                            [](Reading& reading, const Node& node, Seeds& seeds) {
                                                store(seeds.rig, reading.count(node, "a seed"));
                                            }},
                                           {"run", Need::optional,
                                            [](Reading& reading, const Node& node, Seeds& seeds) {
                                                store(seeds.run, reading.count(node, "a seed"));
                                            }},
                                       }};
    return table;
}

const KeyTable<FaultText>& fault_keys() {
    static const KeyTable<FaultText> table{
        "a fault",
        {
            {"fault", Need::required,
             [](Reading& reading, const Node& node, FaultText& fault) {
                 store(fault.entry.fault, reading.identifier(node, "the name of a fault"));
                 fault.name = &node;
             }},
            {"channel", Need::optional,
             [](Reading& reading, const Node& node, FaultText& fault) {
                 store(fault.entry.channel, read_channels(reading, node));
             }},
            {"severity", Need::optional,
             [](Reading& reading, const Node& node, FaultText& fault) {
                 store(fault.entry.severity,
                       reading.quantity(node, Dimension::number, "a severity", {0.0, 1.0}));
             }},
            {"begins", Need::optional,
             [](Reading& reading, const Node& node, FaultText& fault) {
                 store(fault.entry.begins, reading.quantity(node, Dimension::seconds,
                                                            "a time since power-on", {0.0, 1e6}));
             }},
            {"above", Need::optional,
             [](Reading& reading, const Node& node, FaultText& fault) {
                 store(fault.entry.above,
                       reading.quantity(node, Dimension::celsius, "a temperature", celsius_range));
             }},
        }};
    return table;
}

const KeyTable<SimulationEntry>& rig_keys() {
    static const KeyTable<SimulationEntry> table{
        "a simulated rig",
        {
            {"clock", Need::optional,
             [](Reading& reading, const Node& node, SimulationEntry& simulated) {
                 if (const auto ratio =
                         reading.quantity(node, Dimension::ratio, "a clock offset", ppm_range)) {
                     simulated.clock_ppm = 1e6 * *ratio;
                 }
             }},
            {"source_clock", Need::optional,
             [](Reading& reading, const Node& node, SimulationEntry& simulated) {
                 if (const auto ratio =
                         reading.quantity(node, Dimension::ratio, "a clock offset", ppm_range)) {
                     simulated.source_clock_ppm = 1e6 * *ratio;
                 }
             }},
            {"source_distortion", Need::optional,
             [](Reading& reading, const Node& node, SimulationEntry& simulated) {
                 store(simulated.source_distortion, ratio_in(reading, node, "a distortion"));
             }},
            {"input_distortion", Need::optional,
             [](Reading& reading, const Node& node, SimulationEntry& simulated) {
                 store(simulated.input_distortion, ratio_in(reading, node, "a distortion"));
             }},
            {"source_error", Need::optional,
             [](Reading& reading, const Node& node, SimulationEntry& simulated) {
                 store(simulated.source_error,
                       reading.quantity(node, Dimension::ratio, "an error", {-0.5, 0.5}));
             }},
            {"input_error", Need::optional,
             [](Reading& reading, const Node& node, SimulationEntry& simulated) {
                 store(simulated.input_error,
                       reading.quantity(node, Dimension::ratio, "an error", {-0.5, 0.5}));
             }},
            {"card_noise", Need::optional,
             [](Reading& reading, const Node& node, SimulationEntry& simulated) {
                 store(simulated.card_noise,
                       reading.quantity(node, Dimension::dbfs, "a noise level", {-200.0, -20.0}));
             }},
        }};
    return table;
}

const KeyTable<LeftWrong>& left_wrong_keys() {
    using R = Reading;
    using N = Node;
    using L = LeftWrong;
    static constexpr Range knob{-10.0, 10.0};
    static const KeyTable<L> table{
        "controls left in the wrong place",
        {
            {"loudness", Need::optional,
             [](R& r, const N& n, L& l) { left_at(r, n, l, "loudness", "in"); }},
            {"tone", Need::optional,
             [](R& r, const N& n, L& l) { left_at(r, n, l, "tone", "flat", "defeat"); }},
            {"bass", Need::optional,
             [](R& r, const N& n, L& l) { left_off(r, n, l, "bass", knob); }},
            {"treble", Need::optional,
             [](R& r, const N& n, L& l) { left_off(r, n, l, "treble", knob); }},
            {"rumble_filter", Need::optional,
             [](R& r, const N& n, L& l) { left_at(r, n, l, "rumble_filter", "in"); }},
            {"high_filter", Need::optional,
             [](R& r, const N& n, L& l) { left_at(r, n, l, "high_filter", "in"); }},
            {"subsonic_filter", Need::optional,
             [](R& r, const N& n, L& l) { left_at(r, n, l, "subsonic_filter", "in"); }},
            {"balance", Need::optional,
             [](R& r, const N& n, L& l) {
                 left_off(r, n, l, "balance", {-60.0, 60.0});
             }},
            {"mode", Need::optional,
             [](R& r, const N& n, L& l) { left_at(r, n, l, "mode", "mono"); }},
            {"tape_monitor", Need::optional,
             [](R& r, const N& n, L& l) { left_at(r, n, l, "tape_monitor", "in"); }},
            {"muting", Need::optional,
             [](R& r, const N& n, L& l) { left_at(r, n, l, "muting", "in"); }},
            {"input", Need::optional,
             [](R& r, const N& n, L& l) { left_at(r, n, l, "input", "line", "phono"); }},
            {"speakers", Need::optional,
             [](R& r, const N& n, L& l) { left_at(r, n, l, "speakers", "A", "B", "A+B", "off"); }},
            {"volume", Need::optional,
             [](R& r, const N& n, L& l) {
                 left_off(r, n, l, "volume", {-60.0, 0.0});
             }},
            {"jumpers", Need::optional,
             [](R& r, const N& n, L& l) {
                 left_at(r, n, l, "jumpers", "out", "left out", "right out");
             }},
        }};
    return table;
}

const KeyTable<SimulationText>& simulation_keys() {
    static const KeyTable<SimulationText> table{
        "a simulation",
        {
            {"seeds", Need::optional,
             [](Reading& reading, const Node& node, SimulationText& text) {
                 Seeds seeds;
                 read_mapping(reading, node, seed_keys(), seeds);
                 text.entry.unit_seed = seeds.unit;
                 text.entry.rig_seed = seeds.rig;
                 text.entry.run_seed = seeds.run;
             }},
            {"start", Need::optional,
             [](Reading& reading, const Node& node, SimulationText& text) {
                 store(text.entry.warm, reading.word<bool>(node, "a state at the start",
                                                           {{"cold", false}, {"warm", true}}));
             }},
            {"power", Need::optional,
             [](Reading& reading, const Node& node, SimulationText& text) {
                 store(text.entry.power,
                       reading.quantity(node, Dimension::watts, "a power", {1.0, 1000.0}));
             }},
            {"load", Need::optional,
             [](Reading& reading, const Node& node, SimulationText& text) {
                 store(text.entry.load,
                       reading.quantity(node, Dimension::ohms, "a load", {1.0, 1000.0}));
             }},
            {"line_gain", Need::optional,
             [](Reading& reading, const Node& node, SimulationText& text) {
                 store(text.entry.line_gain,
                       reading.quantity(node, Dimension::decibels, "a gain", {0.0, 80.0}));
             }},
            {"phono_gain", Need::optional,
             [](Reading& reading, const Node& node, SimulationText& text) {
                 store(text.entry.phono_gain,
                       reading.quantity(node, Dimension::decibels, "a gain", {0.0, 80.0}));
             }},
            {"headroom", Need::optional,
             [](Reading& reading, const Node& node, SimulationText& text) {
                 store(text.entry.headroom,
                       reading.quantity(node, Dimension::decibels, "a headroom", {-3.0, 10.0}));
             }},
            {"mains_voltage", Need::optional,
             [](Reading& reading, const Node& node, SimulationText& text) {
                 store(text.entry.mains_voltage,
                       reading.quantity(node, Dimension::volts, "a mains voltage", {80, 450}));
             }},
            {"faults", Need::optional,
             [](Reading& reading, const Node& node, SimulationText& text) {
                 read_each(reading, node, "a list of faults", fault_keys(), text.faults);
             }},
            {"left_wrong", Need::optional,
             [](Reading& reading, const Node& node, SimulationText& text) {
                 read_mapping(reading, node, left_wrong_keys(), text.entry.left_wrong);
             }},
            {"rig", Need::optional,
             [](Reading& reading, const Node& node, SimulationText& text) {
                 read_mapping(reading, node, rig_keys(), text.entry);
             }},
        }};
    return table;
}

}  // namespace afterload::sequences
