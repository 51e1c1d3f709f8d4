#include "sequences/rating_reader.hpp"

#include "sequences/key_lists.hpp"
#include "sequences/reading.hpp"
#include "sequences/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

namespace afterload::sequences {

namespace {

// A limit as written. What dimension its numbers have is known when the figure is, so the values
// wait.
struct LimitText {
    const Node* at_least = nullptr;
    const Node* at_most = nullptr;
    const Node* between = nullptr;
    const Node* nominal = nullptr;
    const Node* tolerance = nullptr;
};

struct FigureText {
    RatedFigure rated;
    bool figure_known = false;
    LimitText limit;
    std::optional<LimitText> warn;
    const Node* warn_node = nullptr;
};

struct SheetText {
    RatingSheet sheet;
    bool house = false;
    const Node* figures = nullptr;
};

const KeyTable<LimitText>& limit_keys() {
    static const KeyTable<LimitText> table{
        "a warn band",
        {
            {"at_least", Need::optional,
             [](Reading&, const Node& node, LimitText& limit) { limit.at_least = &node; }},
            {"at_most", Need::optional,
             [](Reading&, const Node& node, LimitText& limit) { limit.at_most = &node; }},
            {"between", Need::optional,
             [](Reading&, const Node& node, LimitText& limit) { limit.between = &node; }},
        }};
    return table;
}

const KeyTable<FigureText>& figure_keys() {
    static const KeyTable<FigureText> table{
        "a rated figure",
        {
            {"id", Need::optional,
             [](Reading& reading, const Node& node, FigureText& text) {
                 store(text.rated.id, reading.identifier(node, "an id"));
             }},
            {"figure", Need::required,
             [](Reading& reading, const Node& node, FigureText& text) {
                 if (const auto kind = read_figure_kind(reading, node)) {
                     text.rated.figure = *kind;
                     text.figure_known = true;
                 }
             }},
            {"at_least", Need::optional,
             [](Reading&, const Node& node, FigureText& text) { text.limit.at_least = &node; }},
            {"at_most", Need::optional,
             [](Reading&, const Node& node, FigureText& text) { text.limit.at_most = &node; }},
            {"between", Need::optional,
             [](Reading&, const Node& node, FigureText& text) { text.limit.between = &node; }},
            {"nominal", Need::optional,
             [](Reading&, const Node& node, FigureText& text) { text.limit.nominal = &node; }},
            {"tolerance", Need::optional,
             [](Reading&, const Node& node, FigureText& text) { text.limit.tolerance = &node; }},
            {"warn", Need::optional,
             [](Reading& reading, const Node& node, FigureText& text) {
                 LimitText warn;
                 if (read_mapping(reading, node, limit_keys(), warn)) {
                     text.warn = warn;
                     text.warn_node = &node;
                 }
             }},
            {"source", Need::optional,
             [](Reading& reading, const Node& node, FigureText& text) {
                 store(text.rated.source, reading.words(node, "a source"));
             }},
        },
        [](FigureText& text) -> Conditions& { return text.rated.conditions; }};
    return table;
}

const KeyTable<UnitDescription>& unit_keys() {
    static const KeyTable<UnitDescription> table{
        "a unit",
        {
            {"maker", Need::required,
             [](Reading& reading, const Node& node, UnitDescription& unit) {
                 store(unit.maker, reading.words(node, "a maker"));
             }},
            {"model", Need::required,
             [](Reading& reading, const Node& node, UnitDescription& unit) {
                 store(unit.model, reading.words(node, "a model"));
             }},
            {"channels", Need::optional,
             [](Reading& reading, const Node& node, UnitDescription& unit) {
                 store(unit.channels, reading.integer(node, "a number of channels", 1, 2));
             }},
            {"inputs", Need::required,
             [](Reading& reading, const Node& node, UnitDescription& unit) {
                 unit.inputs = reading.list_of_words(node, "a list of inputs");
             }},
            {"outputs", Need::required,
             [](Reading& reading, const Node& node, UnitDescription& unit) {
                 unit.outputs = reading.list_of_words(node, "a list of outputs");
             }},
            {"output_terminals", Need::required,
             [](Reading& reading, const Node& node, UnitDescription& unit) {
                 store(unit.bridged, reading.word<bool>(node, "a kind of output terminals",
                                                        {{"common", false}, {"bridged", true}}));
             }},
            {"output_transformer", Need::optional,
             [](Reading& reading, const Node& node, UnitDescription& unit) {
                 store(
                     unit.output_transformer,
                     reading.boolean(node, "an answer to whether the outputs have a transformer"));
             }},
            {"mains_voltage", Need::optional,
             [](Reading& reading, const Node& node, UnitDescription& unit) {
                 store(unit.mains_voltage,
                       reading.quantity(node, Dimension::volts, "a mains voltage", {80, 450}));
             }},
            {"mains_frequency", Need::optional,
             [](Reading& reading, const Node& node, UnitDescription& unit) {
                 store(unit.mains_frequency,
                       reading.quantity(node, Dimension::hertz, "a mains frequency", {40, 70}));
             }},
        }};
    return table;
}

const KeyTable<SheetText>& sheet_keys() {
    static const KeyTable<SheetText> table{
        "a rating sheet",
        {
            {"afterload", Need::required, [](Reading&, const Node&, SheetText&) {}},
            {"title", Need::optional,
             [](Reading& reading, const Node& node, SheetText& text) {
                 store(text.sheet.title, reading.words(node, "a title"));
             }},
            {"house", Need::optional,
             [](Reading& reading, const Node& node, SheetText& text) {
                 store(text.house,
                       reading.boolean(node, "an answer to whether this is a house sheet"));
             }},
            {"unit", Need::optional,
             [](Reading& reading, const Node& node, SheetText& text) {
                 UnitDescription unit;
                 if (read_mapping(reading, node, unit_keys(), unit)) {
                     text.sheet.unit = std::move(unit);
                 }
             }},
            {"figures", Need::required,
             [](Reading&, const Node& node, SheetText& text) { text.figures = &node; }},
        }};
    return table;
}

constexpr Range any_limit{-1e9, 1e9};

// Reads the limit of a figure whose dimension is now known.
std::optional<Limit> read_limit(Reading& reading, const Node& at, const LimitText& text,
                                Dimension dimension) {
    const int sides = (text.at_least != nullptr || text.at_most != nullptr ? 1 : 0) +
                      (text.between != nullptr ? 1 : 0) + (text.nominal != nullptr ? 1 : 0);
    if (sides == 0) {
        reading.mistake(at, "a figure without a limit",
                        "add at_least:, at_most:, between: or nominal: with tolerance:");
        return std::nullopt;
    }
    if (sides > 1) {
        reading.mistake(at, "a figure with more than one kind of limit",
                        "keep at_least and at_most, or between, or nominal with tolerance");
        return std::nullopt;
    }
    Limit limit;
    const auto value = [&](const Node& node) {
        return reading.quantity(node, dimension, "a limit", any_limit);
    };
    if (text.between != nullptr &&
        reading.is_scalar(*text.between, "a limit from one value to another")) {
        const auto span = read_span(text.between->text, dimension, "a limit");
        if (!span) {
            reading.mistake(*text.between, span.error().what, span.error().advice);
            return std::nullopt;
        }
        limit.at_least = span->low;
        limit.at_most = span->high;
    }
    if (text.at_least != nullptr) {
        store(limit.at_least, value(*text.at_least));
    }
    if (text.at_most != nullptr) {
        store(limit.at_most, value(*text.at_most));
    }
    if (limit.at_least && limit.at_most && *limit.at_least >= *limit.at_most) {
        reading.mistake(text.at_most != nullptr ? *text.at_most : at,
                        "at_most is not above at_least");
        return std::nullopt;
    }
    if (text.nominal != nullptr) {
        store(limit.nominal, value(*text.nominal));
        if (text.tolerance == nullptr) {
            reading.mistake(*text.nominal, "a nominal value without a tolerance", "add tolerance:");
            return std::nullopt;
        }
        // A tolerance may be in the figure's own unit, or per cent of the nominal value.
        const bool percent =
            text.tolerance->text.find('%') != std::string::npos && dimension != Dimension::ratio;
        const auto tolerance = reading.quantity(
            *text.tolerance, percent ? Dimension::ratio : dimension, "a tolerance", {0.0, 1e9});
        if (limit.nominal && tolerance) {
            const double width = percent ? *tolerance * std::abs(*limit.nominal) : *tolerance;
            limit.at_least = *limit.nominal - width;
            limit.at_most = *limit.nominal + width;
        }
    } else if (text.tolerance != nullptr) {
        reading.mistake(*text.tolerance, "a tolerance without a nominal value", "add nominal:");
        return std::nullopt;
    }
    return limit.at_least || limit.at_most ? std::optional{limit} : std::nullopt;
}

void require_inside(Reading& reading, const Node& at, const Limit& warn, const Limit& limit) {
    const bool below = warn.at_least && limit.at_least && *warn.at_least < *limit.at_least;
    const bool above = warn.at_most && limit.at_most && *warn.at_most > *limit.at_most;
    if (below || above) {
        reading.mistake(at, "a warn band that reaches beyond the limit",
                        "a warn band lies inside the limit");
    }
}

std::string made_id(const RatedFigure& rated) {
    std::string id{name(rated.figure)};
    const Conditions& conditions = rated.conditions;
    const auto add = [&id](const std::string& part) {
        id += '_';
        for (const char c : part) {
            const bool fits = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                              (c >= '0' && c <= '9') || c == '.';
            if (fits) {
                id += c == '.' ? '_' : c;
            }
        }
    };
    if (conditions.output_level) {
        add(text(*conditions.output_level));
    }
    if (conditions.frequency) {
        add(quantity_text(conditions.frequency->in<Hertz>(), Dimension::hertz));
    }
    if (conditions.load) {
        add(quantity_text(conditions.load->in<Ohms>(), Dimension::ohms));
    }
    if (conditions.path) {
        add(*conditions.path);
    }
    return id;
}

void read_figures(Reading& reading, SheetText& text) {
    if (text.figures == nullptr || !reading.is_list(*text.figures, "a list of rated figures")) {
        return;
    }
    if (text.figures->items.empty()) {
        reading.mistake(*text.figures, "a sheet without a single rated figure");
    }
    std::set<std::string, std::less<>> ids;
    for (const Node& node : text.figures->items) {
        FigureText figure;
        if (!read_mapping(reading, node, figure_keys(), figure)) {
            continue;
        }
        if (figure.figure_known) {
            const Dimension dimension = dimension_of(figure.rated.figure);
            const auto limit = read_limit(reading, node, figure.limit, dimension);
            if (limit) {
                figure.rated.limit = *limit;
            }
            if (figure.warn) {
                figure.rated.warn = read_limit(reading, *figure.warn_node, *figure.warn, dimension);
                if (figure.rated.warn && limit) {
                    require_inside(reading, *figure.warn_node, *figure.rated.warn, *limit);
                }
            }
        }
        if (text.house) {
            figure.rated.origin = RatedFigure::Origin::house;
            if (figure.rated.source.empty()) {
                figure.rated.source = "house rule";
            }
        } else if (figure.rated.source.empty() && node.find("source") == nullptr) {
            reading.mistake(node, "a rated figure without “source”",
                            "add source: the page it is printed on");
        }
        const Node* const id = node.find("id");
        if (figure.rated.id.empty() && id == nullptr) {
            figure.rated.id = made_id(figure.rated);
            for (int i = 2; ids.contains(figure.rated.id); ++i) {
                figure.rated.id = fmt::format("{}_{}", made_id(figure.rated), i);
            }
        }
        if (!ids.insert(figure.rated.id).second && id != nullptr && !figure.rated.id.empty()) {
            reading.mistake(
                *id, fmt::format("the id “{}” stands here a second time", escaped(figure.rated.id)),
                "give each rated figure its own");
        }
        text.sheet.figures.push_back(std::move(figure.rated));
    }
}

}  // namespace

tl::expected<RatingSheet, Diagnostics> read_rating(std::string_view text, std::string path) {
    return read_file<RatingSheet>(
        text, std::move(path), "rating/1",
        [](Reading& reading, const Node& root, RatingSheet& out) {
            SheetText sheet;
            read_mapping(reading, root, sheet_keys(), sheet);
            const bool has_unit = root.find("unit") != nullptr;
            if (has_unit && sheet.house) {
                reading.mistake(*root.find("unit"), "a house sheet has no unit",
                                "take unit: out, or house: true");
            }
            if (!has_unit && !sheet.house) {
                reading.mistake(root, "a rating sheet without “unit”",
                                "add unit:, or house: true for the shop's own limits");
            }
            read_figures(reading, sheet);
            out = std::move(sheet.sheet);
        });
}

std::vector<KeyList> rating_key_lists() {
    return {key_list("sheet", sheet_keys()), key_list("unit", unit_keys()),
            key_list("figure", figure_keys()), key_list("warn", limit_keys())};
}

}  // namespace afterload::sequences
