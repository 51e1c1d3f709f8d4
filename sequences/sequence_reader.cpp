#include "sequences/sequence_reader.hpp"

#include "sequences/key_lists.hpp"
#include "sequences/parameters.hpp"
#include "sequences/reading.hpp"
#include "sequences/step_keys.hpp"
#include "sequences/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>
#include <vector>

namespace afterload::sequences {

namespace {

struct SequenceText {
    Sequence sequence;
    const Node* steps = nullptr;
};

struct NeedsText {
    std::vector<FigureKind> rated;
    std::vector<Place> places;
};

const KeyTable<NeedsText>& needs_keys() {
    static const KeyTable<NeedsText> table{
        "a set of needs",
        {
            {"rated", Need::optional,
             [](Reading& reading, const Node& node, NeedsText& needs) {
                 if (!reading.is_list(node, "a list of rated figures")) {
                     return;
                 }
                 for (const Node& item : node.items) {
                     if (const auto kind = read_figure_kind(reading, item)) {
                         needs.rated.push_back(*kind);
                         needs.places.push_back(item.place);
                     }
                 }
             }},
        }};
    return table;
}

const KeyTable<SequenceText>& sequence_keys() {
    static const KeyTable<SequenceText> table{
        "a sequence",
        {
            {"afterload", Need::required, [](Reading&, const Node&, SequenceText&) {}},
            {"title", Need::required,
             [](Reading& reading, const Node& node, SequenceText& text) {
                 store(text.sequence.title, reading.words(node, "a title"));
             }},
            {"cautions", Need::optional,
             [](Reading& reading, const Node& node, SequenceText& text) {
                 text.sequence.cautions = read_cautions(reading, node);
             }},
            {"needs", Need::optional,
             [](Reading& reading, const Node& node, SequenceText& text) {
                 NeedsText needs;
                 read_mapping(reading, node, needs_keys(), needs);
                 text.sequence.needs_rated = std::move(needs.rated);
                 text.sequence.needs_places = std::move(needs.places);
             }},
            {"parameters", Need::optional,
             [](Reading& reading, const Node& node, SequenceText& text) {
                 text.sequence.parameters = read_parameters(reading, node);
             }},
            {"steps", Need::required,
             [](Reading&, const Node& node, SequenceText& text) { text.steps = &node; }},
        }};
    return table;
}

std::string name_from(std::string_view path) {
    const std::size_t slash = path.find_last_of('/');
    std::string_view name = slash == std::string_view::npos ? path : path.substr(slash + 1);
    for (const std::string_view ending : {".yaml", ".yml", ".sequence"}) {
        if (name.ends_with(ending)) {
            name.remove_suffix(ending.size());
        }
    }
    return std::string{name};
}

ParameterValues values_of(Reading& reading, const std::vector<Parameter>& parameters,
                          const Overrides& overrides) {
    ParameterValues values;
    std::vector<std::string_view> known;
    for (const Parameter& parameter : parameters) {
        values[parameter.name] = parameter.default_text;
        known.push_back(parameter.name);
    }
    for (const auto& [name, text] : overrides) {
        const auto found = values.find(name);
        if (found == values.end()) {
            const std::string_view near = nearest(name, known);
            reading.mistake(fmt::format("--set {}: no parameter of this sequence has that name{}",
                                        escaped(name),
                                        near.empty() ? "" : fmt::format("; nearest: {}", near)));
        } else {
            found->second = text;
        }
    }
    return values;
}

/// What a step stands after must have stood before it.
void check_earlier_steps(Reading& reading, const Node& node, const Step& step,
                         const std::vector<Step>& earlier) {
    std::vector<std::string_view> names;
    for (const Step& one : earlier) {
        names.push_back(one.name);
    }
    const Node* const list = node.find("after");
    for (std::size_t i = 0; i < step.after.size(); ++i) {
        if (std::find(names.begin(), names.end(), step.after[i]) != names.end()) {
            continue;
        }
        const bool placed = list != nullptr && i < list->items.size();
        const std::string_view near = nearest(step.after[i], names);
        reading.mistake(
            placed ? list->items[i] : node,
            fmt::format("no step before this one is called “{}”", escaped(step.after[i])),
            near.empty() ? std::string{} : fmt::format("nearest: {}", near));
    }
}

void read_steps(Reading& reading, const Node& node, const ParameterValues& values,
                Sequence& sequence) {
    if (!reading.is_list(node, "a list of steps")) {
        return;
    }
    if (node.items.empty()) {
        reading.mistake(node, "a sequence without a step");
    }
    Node steps = node;
    substitute(reading, steps, values);
    for (const Node& item : steps.items) {
        if (auto step = read_step(reading, item)) {
            check_earlier_steps(reading, item, *step, sequence.steps);
            sequence.steps.push_back(std::move(*step));
        }
    }
}

}  // namespace

tl::expected<Sequence, Diagnostics> read_sequence(std::string_view text, std::string path,
                                                  const Overrides& overrides) {
    const std::string kept = path;
    return read_file<Sequence>(text, std::move(path), "sequence/1",
                               [&](Reading& reading, const Node& root, Sequence& out) {
                                   SequenceText sequence;
                                   read_mapping(reading, root, sequence_keys(), sequence);
                                   const ParameterValues values =
                                       values_of(reading, sequence.sequence.parameters, overrides);
                                   if (sequence.steps != nullptr) {
                                       read_steps(reading, *sequence.steps, values,
                                                  sequence.sequence);
                                   }
                                   out = std::move(sequence.sequence);
                                   out.path = kept;
                                   out.name = name_from(kept);
                                   out.text = text;
                               });
}

const std::vector<std::string_view>& step_quantities() {
    static const std::vector<std::string_view> names{
        "dc_offset",       "mains_voltage", "ambient",     "heat_sink", "load_temperature",
        "emitter_voltage", "main_rail",     "mains_power", "tone_rail"};
    return names;
}

const std::vector<std::string_view>& meter_quantities() {
    static const std::vector<std::string_view> names = [] {
        std::vector<std::string_view> all = step_quantities();
        all.insert(all.end(), {"source_voltage", "load_resistance"});
        return all;
    }();
    return names;
}

std::vector<KeyList> sequence_key_lists() {
    std::vector<KeyList> lists{key_list("sequence", sequence_keys()),
                               key_list("needs", needs_keys()), parameter_key_list()};
    for (KeyList& list : step_key_lists()) {
        lists.push_back(std::move(list));
    }
    return lists;
}

}  // namespace afterload::sequences
