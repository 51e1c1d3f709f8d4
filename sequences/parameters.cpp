#include "sequences/parameters.hpp"

#include <fmt/format.h>

#include <utility>

namespace afterload::sequences {

namespace {

constexpr std::size_t longest_text = 4000;

const KeyTable<Parameter>& parameter_keys() {
    static const KeyTable<Parameter> table{
        "a parameter",
        {
            {"default", Need::required,
             [](Reading& reading, const Node& node, Parameter& parameter) {
                 store(parameter.default_text, reading.words(node, "a default"));
             }},
            {"help", Need::optional,
             [](Reading& reading, const Node& node, Parameter& parameter) {
                 store(parameter.help, reading.words(node, "a help text"));
             }},
        }};
    return table;
}

void substitute_scalar(Reading& reading, Node& node, const ParameterValues& values) {
    std::string out;
    std::string note;
    std::string_view rest = node.text;
    while (!rest.empty()) {
        const std::size_t open = rest.find("${");
        out += rest.substr(0, open);
        if (open == std::string_view::npos) {
            break;
        }
        const std::size_t close = rest.find('}', open);
        if (close == std::string_view::npos) {
            reading.mistake(node, "a parameter that is not closed", "write it as ${name}");
            node.refused = true;
            return;
        }
        const std::string_view name = rest.substr(open + 2, close - open - 2);
        const auto found = values.find(name);
        if (found == values.end()) {
            std::vector<std::string_view> known;
            for (const auto& [each, text] : values) {
                known.push_back(each);
            }
            const std::string_view near = nearest(name, known);
            reading.mistake(
                node,
                fmt::format("“{}” is not a parameter of this sequence",
                            escaped(name.substr(0, 60))),
                near.empty() ? "name it under parameters:" : fmt::format("nearest: {}", near));
            node.refused = true;
            return;
        }
        out += found->second;
        note += fmt::format("{}${{{}}} is {}", note.empty() ? "" : ", ", name,
                            escaped(std::string_view{found->second}.substr(0, 60)));
        if (out.size() > longest_text) {
            reading.mistake(node, "this text grows too long when its parameters are put in");
            node.refused = true;
            return;
        }
        rest.remove_prefix(close + 1);
    }
    node.text = std::move(out);
    node.note = std::move(note);
}

}  // namespace

std::vector<Parameter> read_parameters(Reading& reading, const Node& node) {
    std::vector<Parameter> parameters;
    if (!reading.is_mapping(node, "a mapping of parameters")) {
        return parameters;
    }
    for (const Entry& entry : node.entries) {
        Parameter parameter;
        Node name;
        name.kind = Node::Kind::scalar;
        name.place = entry.place;
        name.width = entry.width;
        name.block_line = entry.place.line;
        name.text = entry.key;
        store(parameter.name, reading.identifier(name, "the name of a parameter"));
        if (entry.value.kind == Node::Kind::scalar) {
            store(parameter.default_text, reading.words(entry.value, "a default"));
        } else {
            read_mapping(reading, entry.value, parameter_keys(), parameter);
        }
        parameters.push_back(std::move(parameter));
    }
    return parameters;
}

void substitute(Reading& reading, Node& node, const ParameterValues& values) {
    if (node.kind == Node::Kind::scalar && node.text.find("${") != std::string::npos) {
        substitute_scalar(reading, node, values);
    }
    for (Node& item : node.items) {
        substitute(reading, item, values);
    }
    for (Entry& entry : node.entries) {
        substitute(reading, entry.value, values);
    }
}

KeyList parameter_key_list() {
    return key_list("parameter", parameter_keys());
}

}  // namespace afterload::sequences
