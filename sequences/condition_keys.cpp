#include "sequences/condition_keys.hpp"

#include "sequences/reading.hpp"
#include "sequences/words.hpp"

namespace afterload::sequences {

namespace {

constexpr Range tone{1e-2, 1e6};

template <auto Member>
void read_words(Reading& reading, const Node& node, Conditions& into) {
    store(into.*Member, reading.words(node, "a text"));
}

}  // namespace

const std::vector<ConditionKey>& condition_key_table() {
    static const std::vector<ConditionKey> table{
        {"load",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.load, reading.quantity(node, Dimension::ohms, "a load", {0.1, 1e6}));
         }},
        {"channels_driven",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.channels_driven, read_channels(reading, node));
         }},
        {"output_level",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.output_level, reading.level(node, LevelUse::rating, "an output level"));
         }},
        {"frequency",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.frequency, reading.quantity(node, Dimension::hertz, "a frequency", tone));
         }},
        {"tone_range",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.tone_range, reading.band(node, "a tone range"));
         }},
        {"bandwidth",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.bandwidth, reading.band(node, "a bandwidth"));
         }},
        {"weighting",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.weighting, read_weighting(reading, node));
         }},
        {"detector", [](Reading& reading, const Node& node,
                        Conditions& into) { store(into.detector, read_detector(reading, node)); }},
        {"reference_level",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.reference_level,
                   reading.level(node, LevelUse::rating, "a reference level"));
         }},
        {"reference_frequency",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.reference_frequency,
                   reading.quantity(node, Dimension::hertz, "a reference frequency", tone));
         }},
        {"highest_order",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.highest_order, reading.integer(node, "an order of harmonics", 2, 100));
         }},
        {"thd",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.thd, reading.quantity(node, Dimension::ratio, "a distortion", {1e-7, 1.0}));
         }},
        {"fall",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.fall, reading.quantity(node, Dimension::decibels, "a fall", {-60, -0.01}));
         }},
        {"input", read_words<&Conditions::input>},
        {"output", read_words<&Conditions::output>},
        {"path",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.path, reading.word_of(node, "a path", {"direct", "tone"}));
         }},
        {"source_impedance",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.source_impedance,
                   reading.quantity(node, Dimension::ohms, "a source impedance", {0.0, 1e7}));
         }},
        {"termination", read_words<&Conditions::termination>},
        {"volume", read_words<&Conditions::volume>},
        {"tone_controls", read_words<&Conditions::tone_controls>},
        {"curve",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.curve, reading.word_of(node, "an equalisation curve",
                                               {"3180/318/75 us", "3180/318/75/7950 us"}));
         }},
        {"mains_voltage",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.mains_voltage,
                   reading.quantity(node, Dimension::volts, "a mains voltage", {80, 450}));
         }},
        {"warm_up",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.warm_up,
                   reading.quantity(node, Dimension::seconds, "a warm-up", {0, 86400}));
         }},
        {"preconditioning", read_words<&Conditions::preconditioning>},
        {"ambient",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.ambient,
                   reading.quantity(node, Dimension::celsius, "an ambient temperature", {-20, 60}));
         }},
        {"dwell",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.dwell, reading.quantity(node, Dimension::seconds, "a dwell", {0, 86400}));
         }},
        {"signal",
         [](Reading& reading, const Node& node, Conditions& into) {
             store(into.signal, reading.word_of(node, "a signal", {"multitone"}));
         }},
    };
    return table;
}

}  // namespace afterload::sequences
