#include "sequences/hint_reader.hpp"

#include "analysis/capture_fault.hpp"
#include "analysis/event_names.hpp"
#include "sequences/key_lists.hpp"
#include "sequences/reading.hpp"
#include "sequences/sequence_reader.hpp"
#include "sequences/step_keys.hpp"
#include "sequences/words.hpp"

#include <fmt/format.h>

#include <cstdlib>
#include <set>
#include <stdexcept>
#include <utility>

namespace afterload::sequences {

namespace {

using Source = HintFact::Source;

constexpr Range any_value{-1e9, 1e9};

// What a fact is of, as written: exactly one of them is due.
struct FactText {
    HintFact fact;
    const Node* pair = nullptr;  ///< of a ratio, a difference or a sum
    int sources = 0;
};

// Limits wait until the dimension of their fact is known.
struct ConditionText {
    const Node* fact = nullptr;
    const Node* at_least = nullptr;
    const Node* at_most = nullptr;
    const Node* any = nullptr;
    HintCondition::Of of = HintCondition::Of::own;
};

struct HintText {
    HintRule rule;
    const Node* when = nullptr;
    const Node* also = nullptr;
    const Node* against = nullptr;
    const Node* unless = nullptr;
};

struct RulesText {
    std::string title;
    const Node* facts = nullptr;
    const Node* hints = nullptr;
};

const std::vector<std::string_view>& trends() {
    static const std::vector<std::string_view> names{"heat_sink", "level_drift", "thd", "offset"};
    return names;
}

template <Source Which>
void pair_into(Reading&, const Node& node, FactText& text) {
    text.fact.source = Which;
    text.pair = &node;
    ++text.sources;
}

const std::vector<std::string_view>& capture_faults() {
    static const std::vector<std::string_view> names = [] {
        std::vector<std::string_view> all;
        for (const CaptureFaultKind kind : capture_fault_kinds()) {
            all.push_back(name(kind));
        }
        return all;
    }();
    return names;
}

const KeyTable<FactText>& fact_keys() {
    static const KeyTable<FactText> table{
        "a fact",
        {
            {"fact", Need::required,
             [](Reading& reading, const Node& node, FactText& text) {
                 store(text.fact.name, reading.identifier(node, "the name of a fact"));
             }},
            {"words", Need::required,
             [](Reading& reading, const Node& node, FactText& text) {
                 store(text.fact.words, reading.words(node, "what a fact is called"));
             }},
            {"figure", Need::optional,
             [](Reading& reading, const Node& node, FactText& text) {
                 store(text.fact.figure, read_figure_kind(reading, node));
                 ++text.sources;
             }},
            {"order", Need::optional,
             [](Reading& reading, const Node& node, FactText& text) {
                 store(text.fact.order, reading.integer(node, "an order of harmonics", 2, 40));
             }},
            {"detail", Need::optional,
             [](Reading& reading, const Node& node, FactText& text) {
                 store(text.fact.detail, reading.identifier(node, "a further number of a figure"));
             }},
            {"from", Need::optional,
             [](Reading& reading, const Node& node, FactText& text) {
                 store(text.fact.from,
                       reading.word<HintFact::From>(node, "what a fact is counted from",
                                                    {{"zero", HintFact::From::zero},
                                                     {"nominal", HintFact::From::nominal},
                                                     {"limit", HintFact::From::limit}}));
             }},
            {"take", Need::optional,
             [](Reading& reading, const Node& node, FactText& text) {
                 store(text.fact.take,
                       reading.word<HintFact::Take>(
                           node, "which of several to take",
                           {{"first", HintFact::Take::first}, {"last", HintFact::Take::last}}));
             }},
            {"reading", Need::optional,
             [](Reading& reading, const Node& node, FactText& text) {
                 text.fact.source = Source::reading;
                 store(text.fact.reading,
                       reading.word_of(node, "something a meter reads", step_quantities()));
                 ++text.sources;
             }},
            {"trend", Need::optional,
             [](Reading& reading, const Node& node, FactText& text) {
                 text.fact.source = Source::trend;
                 store(text.fact.reading,
                       reading.word_of(node, "what a soak keeps the trend of", trends()));
                 ++text.sources;
             }},
            {"events", Need::optional,
             [](Reading& reading, const Node& node, FactText& text) {
                 text.fact.source = Source::events;
                 store(text.fact.event, reading.word_of(node, "a kind of event", event_names()));
                 ++text.sources;
             }},
            {"largest", Need::optional,
             [](Reading& reading, const Node& node, FactText& text) {
                 store(text.fact.largest,
                       reading.boolean(node, "an answer to whether the largest is meant"));
             }},
            {"retakes", Need::optional,
             [](Reading& reading, const Node& node, FactText& text) {
                 text.fact.source = Source::retakes;
                 store(text.fact.event,
                       reading.word_of(node, "a fault of a record", capture_faults()));
                 ++text.sources;
             }},
            {"told", Need::optional,
             [](Reading& reading, const Node& node, FactText& text) {
                 text.fact.source = Source::told;
                 store(text.fact.told, reading.words(node, "the words to look for"));
                 ++text.sources;
             }},
            {"ratio", Need::optional, pair_into<Source::ratio>},
            {"difference", Need::optional, pair_into<Source::difference>},
            {"sum", Need::optional, pair_into<Source::sum>},
        },
        [](FactText& text) -> Conditions& { return text.fact.conditions; }};
    return table;
}

const KeyTable<ConditionText>& condition_keys_of_hints() {
    static const KeyTable<ConditionText> table{
        "a condition",
        {
            {"fact", Need::optional,
             [](Reading&, const Node& node, ConditionText& text) { text.fact = &node; }},
            {"of", Need::optional,
             [](Reading& reading, const Node& node, ConditionText& text) {
                 store(text.of,
                       reading.word<HintCondition::Of>(node, "a channel of a condition",
                                                       {{"own", HintCondition::Of::own},
                                                        {"other", HintCondition::Of::other},
                                                        {"apart", HintCondition::Of::apart},
                                                        {"times", HintCondition::Of::times}}));
             }},
            {"at_least", Need::optional,
             [](Reading&, const Node& node, ConditionText& text) { text.at_least = &node; }},
            {"at_most", Need::optional,
             [](Reading&, const Node& node, ConditionText& text) { text.at_most = &node; }},
            {"any", Need::optional,
             [](Reading&, const Node& node, ConditionText& text) { text.any = &node; }},
        }};
    return table;
}

template <auto Member>
void words_into(Reading& reading, const Node& node, HintText& text) {
    store(text.rule.*Member, reading.words(node, "a text"));
}

template <auto Member>
void node_into(Reading&, const Node& node, HintText& text) {
    text.*Member = &node;
}

const KeyTable<HintText>& hint_keys() {
    static const KeyTable<HintText> table{
        "a hint",
        {
            {"hint", Need::required,
             [](Reading& reading, const Node& node, HintText& text) {
                 store(text.rule.name, reading.identifier(node, "the name of a hint"));
             }},
            {"about", Need::required,
             [](Reading& reading, const Node& node, HintText& text) {
                 store(text.rule.about, reading.word<HintAbout>(node, "what a hint is about",
                                                                {{"rig", HintAbout::rig},
                                                                 {"control", HintAbout::control},
                                                                 {"unit", HintAbout::unit}}));
             }},
            {"family", Need::required, words_into<&HintRule::family>},
            {"channels", Need::optional,
             [](Reading& reading, const Node& node, HintText& text) {
                 store(text.rule.channels,
                       reading.word<HintChannels>(node, "the channels of a hint",
                                                  {{"one", HintChannels::one},
                                                   {"both", HintChannels::both},
                                                   {"any", HintChannels::any}}));
             }},
            {"confidence", Need::optional,
             [](Reading& reading, const Node& node, HintText& text) {
                 store(text.rule.confidence,
                       reading.word<HintConfidence>(node, "a confidence",
                                                    {{"low", HintConfidence::low},
                                                     {"medium", HintConfidence::medium},
                                                     {"high", HintConfidence::high},
                                                     {"certain", HintConfidence::certain}}));
             }},
            {"explains", Need::required,
             [](Reading& reading, const Node& node, HintText& text) {
                 if (!reading.is_list(node, "a list of figures")) {
                     return;
                 }
                 for (const Node& item : node.items) {
                     if (const auto kind = read_figure_kind(reading, item)) {
                         text.rule.explains.push_back(*kind);
                     }
                 }
             }},
            {"even_if_passed", Need::optional,
             [](Reading& reading, const Node& node, HintText& text) {
                 store(text.rule.even_if_passed,
                       reading.boolean(node, "an answer to whether nothing need have failed"));
             }},
            {"when", Need::required, node_into<&HintText::when>},
            {"also", Need::optional, node_into<&HintText::also>},
            {"against", Need::optional, node_into<&HintText::against>},
            {"unless", Need::optional, node_into<&HintText::unless>},
            {"usually", Need::required, words_into<&HintRule::usually>},
            {"look", Need::required, words_into<&HintRule::look>},
            {"separates", Need::required, words_into<&HintRule::separates>},
            {"cautions", Need::optional,
             [](Reading& reading, const Node& node, HintText& text) {
                 text.rule.cautions = read_cautions(reading, node);
             }},
        }};
    return table;
}

const KeyTable<RulesText>& rules_keys() {
    static const KeyTable<RulesText> table{
        "a file of hints",
        {
            {"afterload", Need::required, [](Reading&, const Node&, RulesText&) {}},
            {"title", Need::optional,
             [](Reading& reading, const Node& node, RulesText& text) {
                 store(text.title, reading.words(node, "a title"));
             }},
            {"facts", Need::optional,
             [](Reading&, const Node& node, RulesText& text) { text.facts = &node; }},
            {"hints", Need::required,
             [](Reading&, const Node& node, RulesText& text) { text.hints = &node; }},
        }};
    return table;
}

Dimension dimension_of_reading(std::string_view quantity) {
    if (quantity == "dc_offset" || quantity == "emitter_voltage" || quantity == "main_rail" ||
        quantity == "tone_rail") {
        return Dimension::volts_dc;
    }
    if (quantity == "mains_power") {
        return Dimension::watts;
    }
    return quantity.ends_with("voltage") ? Dimension::volts : Dimension::celsius;
}

// What stands between two facts of volts has a sign.
Dimension signed_dimension(Dimension dimension) {
    return dimension == Dimension::volts ? Dimension::volts_dc : dimension;
}

Dimension dimension_of_trend(std::string_view quantity) {
    return quantity == "heat_sink"     ? Dimension::celsius
           : quantity == "thd"         ? Dimension::ratio
           : quantity == "level_drift" ? Dimension::decibels
                                       : Dimension::volts_dc;
}

Dimension dimension_asked(HintCondition::Of of, const HintFact& fact) {
    switch (of) {
        case HintCondition::Of::apart:
            return signed_dimension(fact.dimension);
        case HintCondition::Of::times:
            return Dimension::number;
        default:
            return fact.dimension;
    }
}

class Reader {
public:
    Reader(Reading& reading, const HintRules* under, HintRules& out)
        : reading_{reading}, under_{under}, out_{out} {}

    void facts(const Node& node) {
        if (!reading_.is_list(node, "a list of facts")) {
            return;
        }
        std::set<std::string, std::less<>> names;
        for (const Node& item : node.items) {
            FactText text;
            if (!read_mapping(reading_, item, fact_keys(), text)) {
                continue;
            }
            const Node* const name = item.find("fact");
            if (name != nullptr && !names.insert(text.fact.name).second) {
                reading_.mistake(*name, "a fact of this name stands here already",
                                 "give each fact its own");
            }
            if (text.sources != 1) {
                reading_.mistake(
                    item,
                    text.sources == 0 ? "a fact that is taken from nothing"
                                      : "a fact that is taken from more than one thing",
                    "write one of figure, reading, trend, events, retakes, told, ratio, "
                    "difference, sum");
                continue;
            }
            if (complete(item, text)) {
                out_.facts.push_back(std::move(text.fact));
            }
        }
    }

    void hints(const Node& node) {
        if (!reading_.is_list(node, "a list of hints")) {
            return;
        }
        std::set<std::string, std::less<>> names;
        for (const Node& item : node.items) {
            HintText text;
            if (!read_mapping(reading_, item, hint_keys(), text)) {
                continue;
            }
            const Node* const name = item.find("hint");
            if (name != nullptr && !names.insert(text.rule.name).second) {
                reading_.mistake(*name, "a hint of this name stands here already",
                                 "give each hint its own");
            }
            HintRule& rule = text.rule;
            rule.when = conditions(text.when, rule);
            rule.also = conditions(text.also, rule);
            rule.against = conditions(text.against, rule);
            rule.unless = conditions(text.unless, rule);
            if (text.when != nullptr && text.when->kind == Node::Kind::list &&
                text.when->items.empty()) {
                reading_.mistake(*text.when, "a hint that needs nothing",
                                 "say which facts it is read from");
            }
            const Node* const confidence = item.find("confidence");
            if (rule.about == HintAbout::unit && rule.confidence == HintConfidence::certain &&
                confidence != nullptr) {
                reading_.mistake(*confidence,
                                 "nothing inside a unit is certain from a signal alone",
                                 "write high, medium or low");
            }
            out_.hints.push_back(std::move(rule));
        }
    }

private:
    [[nodiscard]] const HintFact* known(std::string_view name) const {
        if (const HintFact* own = out_.find_fact(name)) {
            return own;
        }
        return under_ == nullptr ? nullptr : under_->find_fact(name);
    }

    [[nodiscard]] const HintFact* fact_at(const Node& node) {
        if (!reading_.is_scalar(node, "the name of a fact")) {
            return nullptr;
        }
        if (const HintFact* found = known(node.text)) {
            return found;
        }
        std::vector<std::string_view> names;
        for (const HintFact& fact : out_.facts) {
            names.push_back(fact.name);
        }
        if (under_ != nullptr) {
            for (const HintFact& fact : under_->facts) {
                names.push_back(fact.name);
            }
        }
        reading_.unknown_word(node, "a fact that stands above", names);
        return nullptr;
    }

    /// What the fact's value is; of two facts also which.
    [[nodiscard]] bool complete(const Node& item, FactText& text) {
        HintFact& fact = text.fact;
        switch (fact.source) {
            case Source::figure:
                fact.dimension = fact.from == HintFact::From::zero ? dimension_of(fact.figure)
                                                                   : Dimension::decibels;
                if (fact.order.has_value() != (fact.figure == FigureKind::harmonic)) {
                    reading_.mistake(item, "an order belongs to harmonics, and they need one",
                                     "write order: with figure: harmonic");
                    return false;
                }
                return true;
            case Source::reading:
                fact.dimension = fact.from == HintFact::From::zero
                                     ? dimension_of_reading(fact.reading)
                                     : Dimension::ratio;
                return true;
            case Source::trend:
                fact.dimension = dimension_of_trend(fact.reading);
                return true;
            case Source::events:
            case Source::retakes:
            case Source::told:
                fact.dimension = fact.largest ? Dimension::decibels : Dimension::number;
                return true;
            case Source::ratio:
            case Source::difference:
            case Source::sum:
                break;
        }
        if (!reading_.is_list(*text.pair, "two facts")) {
            return false;
        }
        if (text.pair->items.size() != 2) {
            reading_.mistake(*text.pair, "two facts are due here", "write [one, another]");
            return false;
        }
        const HintFact* first = fact_at(text.pair->items[0]);
        const HintFact* second = fact_at(text.pair->items[1]);
        if (first == nullptr || second == nullptr) {
            return false;
        }
        if (signed_dimension(first->dimension) != signed_dimension(second->dimension)) {
            reading_.mistake(*text.pair, "two facts of different kinds",
                             "both must be volts, or both decibels, …");
            return false;
        }
        fact.first = first->name;
        fact.second = second->name;
        fact.dimension =
            fact.source == Source::ratio ? Dimension::number : signed_dimension(first->dimension);
        return true;
    }

    std::vector<HintCondition> conditions(const Node* list, const HintRule& rule) {
        std::vector<HintCondition> all;
        if (list == nullptr || !reading_.is_list(*list, "a list of conditions")) {
            return all;
        }
        for (const Node& item : list->items) {
            ConditionText text;
            if (!read_mapping(reading_, item, condition_keys_of_hints(), text)) {
                continue;
            }
            if ((text.fact == nullptr) == (text.any == nullptr)) {
                reading_.mistake(item, "a condition speaks of one fact, or of any of several",
                                 "write fact:, or any: with a list of conditions");
                continue;
            }
            HintCondition condition;
            condition.of = text.of;
            if (text.any != nullptr) {
                condition.any = conditions(text.any, rule);
                all.push_back(std::move(condition));
                continue;
            }
            const HintFact* fact = fact_at(*text.fact);
            if (fact == nullptr) {
                continue;
            }
            if (rule.channels == HintChannels::both && text.of == HintCondition::Of::other) {
                reading_.mistake(*item.find("of"), "a hint about both channels has no other one",
                                 "leave of: out, or write apart or times");
            }
            condition.fact = fact->name;
            const Dimension dimension = dimension_asked(text.of, *fact);
            if (text.at_least != nullptr) {
                condition.at_least =
                    reading_.quantity(*text.at_least, dimension, "a limit", any_value);
            }
            if (text.at_most != nullptr) {
                condition.at_most =
                    reading_.quantity(*text.at_most, dimension, "a limit", any_value);
            }
            all.push_back(std::move(condition));
        }
        return all;
    }

    Reading& reading_;
    const HintRules* under_;
    HintRules& out_;
};

}  // namespace

tl::expected<HintRules, Diagnostics> read_hints(std::string_view text, std::string path,
                                                const HintRules* under) {
    auto own = read_file<HintRules>(text, std::move(path), "hints/1",
                                    [under](Reading& reading, const Node& root, HintRules& out) {
                                        RulesText rules;
                                        read_mapping(reading, root, rules_keys(), rules);
                                        out.title = std::move(rules.title);
                                        Reader reader{reading, under, out};
                                        if (rules.facts != nullptr) {
                                            reader.facts(*rules.facts);
                                        }
                                        if (rules.hints != nullptr) {
                                            reader.hints(*rules.hints);
                                        }
                                    });
    if (own && under != nullptr) {
        return laid_over(*own, *under);
    }
    return own;
}

const HintRules& shipped_hints() {
    static const HintRules rules = [] {
        auto read = read_hints(shipped_hints_text(), "first.hints.yaml");
        if (!read) {
            throw std::logic_error("the hints that ship: " + text(read.error()));
        }
        return *std::move(read);
    }();
    return rules;
}

std::vector<KeyList> hint_key_lists() {
    return {key_list("hints", rules_keys()), key_list("fact", fact_keys()),
            key_list("hint", hint_keys()), key_list("condition", condition_keys_of_hints())};
}

}  // namespace afterload::sequences
