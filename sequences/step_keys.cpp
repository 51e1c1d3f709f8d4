#include "sequences/step_keys.hpp"

#include "sequences/sequence_reader.hpp"
#include "sequences/soak_keys.hpp"
#include "sequences/step_checks.hpp"
#include "sequences/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <system_error>
#include <utility>

namespace afterload::sequences {

namespace {

constexpr Range tone_range{0.1, 500e3};
constexpr Range settle_range{0.0, 600.0};
constexpr Range record_range{0.01, 600.0};
constexpr Range further_range{0.0, 600.0};
constexpr Range dwell_range{0.0, 4.0 * 3600.0};
constexpr Range load_range{0.1, 1e6};

const KeyTable<Prompt>& prompt_keys() {
    static const KeyTable<Prompt> table{
        "a prompt",
        {
            {"title", Need::required,
             [](Reading& reading, const Node& node, Prompt& prompt) {
                 store(prompt.title, reading.words(node, "a title"));
             }},
            {"controls", Need::optional,
             [](Reading& reading, const Node& node, Prompt& prompt) {
                 if (!reading.is_mapping(node, "a mapping of controls to positions")) {
                     return;
                 }
                 for (const Entry& entry : node.entries) {
                     if (auto position = reading.words(entry.value, "a position")) {
                         prompt.controls.emplace_back(entry.key, std::move(*position));
                     }
                 }
             }},
            {"checks", Need::optional,
             [](Reading& reading, const Node& node, Prompt& prompt) {
                 prompt.checks = reading.list_of_words(node, "a list of things to check");
             }},
            {"cautions", Need::optional,
             [](Reading& reading, const Node& node, Prompt& prompt) {
                 prompt.cautions = read_cautions(reading, node);
             }},
            {"listens", Need::optional,
             [](Reading& reading, const Node& node, Prompt& prompt) {
                 store(prompt.listens,
                       reading.boolean(node, "an answer to whether the person listens"));
             }},
        }};
    return table;
}

const KeyTable<MeterRequest>& meter_keys() {
    static const KeyTable<MeterRequest> table{
        "a reading of a meter",
        {
            {"reads", Need::required,
             [](Reading& reading, const Node& node, MeterRequest& meter) {
                 store(meter.quantity,
                       reading.word_of(node, "something a meter reads", step_quantities()));
             }},
            {"rated", Need::optional,
             [](Reading& reading, const Node& node, MeterRequest& meter) {
                 store(meter.rated, reading.identifier(node, "the id of a rating"));
             }},
            {"gate", Need::optional,
             [](Reading& reading, const Node& node, MeterRequest& meter) {
                 store(meter.gate, reading.boolean(node, "an answer to whether this is a gate"));
             }},
        }};
    return table;
}

const KeyTable<FigureRequest>& figure_keys() {
    static const KeyTable<FigureRequest> table{
        "a figure",
        {
            {"figure", Need::required,
             [](Reading& reading, const Node& node, FigureRequest& request) {
                 store(request.figure, read_figure_kind(reading, node));
             }},
            {"rated", Need::optional,
             [](Reading& reading, const Node& node, FigureRequest& request) {
                 store(request.rated, reading.identifier(node, "the id of a rating"));
             }},
            {"scored", Need::optional,
             [](Reading& reading, const Node& node, FigureRequest& request) {
                 store(request.scored,
                       reading.boolean(node, "an answer to whether the figure is scored"));
             }},
            {"weighting", Need::optional,
             [](Reading& reading, const Node& node, FigureRequest& request) {
                 store(request.weighting, read_weighting(reading, node));
             }},
            {"detector", Need::optional,
             [](Reading& reading, const Node& node, FigureRequest& request) {
                 store(request.detector, read_detector(reading, node));
             }},
            {"bandwidth", Need::optional,
             [](Reading& reading, const Node& node, FigureRequest& request) {
                 store(request.bandwidth, reading.band(node, "a bandwidth"));
             }},
            {"reference_level", Need::optional,
             [](Reading& reading, const Node& node, FigureRequest& request) {
                 store(request.reference_level,
                       reading.level(node, LevelUse::rating, "a reference level"));
             }},
            {"reference_frequency", Need::optional,
             [](Reading& reading, const Node& node, FigureRequest& request) {
                 store(
                     request.reference_frequency,
                     reading.quantity(node, Dimension::hertz, "a reference frequency", tone_range));
             }},
            {"highest_order", Need::optional,
             [](Reading& reading, const Node& node, FigureRequest& request) {
                 store(request.highest_order,
                       reading.integer(node, "an order of harmonics", 2, 100));
             }},
            {"fall", Need::optional,
             [](Reading& reading, const Node& node, FigureRequest& request) {
                 store(request.fall,
                       reading.quantity(node, Dimension::decibels, "a fall", {-60.0, -0.01}));
             }},
            {"boost", Need::optional,
             [](Reading& reading, const Node& node, FigureRequest& request) {
                 store(request.boost, reading.quantity(node, Dimension::decibels, "a boost or cut",
                                                       {-40.0, 40.0}));
             }},
            {"thd", Need::optional,
             [](Reading& reading, const Node& node, FigureRequest& request) {
                 store(request.thd,
                       reading.quantity(node, Dimension::ratio, "a distortion", {1e-7, 1.0}));
             }},
        }};
    return table;
}

const KeyTable<DistortionLimited>& level_keys() {
    static const KeyTable<DistortionLimited> table{
        "a level limited by distortion",
        {
            {"distortion", Need::required,
             [](Reading& reading, const Node& node, DistortionLimited& level) {
                 if (node.kind == Node::Kind::scalar && node.text == "as rated") {
                     return;
                 }
                 store(level.thd, reading.quantity(node, Dimension::ratio,
                                                   "a distortion (or “as rated”)", {1e-6, 1.0}));
             }},
            {"up_to", Need::required,
             [](Reading& reading, const Node& node, DistortionLimited& level) {
                 const auto target = reading.level(node, LevelUse::step, "a level");
                 if (target && target->kind == LevelTarget::Kind::drive_dbfs) {
                     reading.mistake(node,
                                     "a level limited by distortion ends at an output, or at "
                                     "a drive in volts",
                                     "write it in W, as rated + 1 dB, or in V for an input");
                 }
                 store(level.up_to, target);
             }},
        }};
    return table;
}

// Reads each scalar of a list; one value alone stands for a list of one.
template <class T, class ReadOne>
std::vector<T> read_values(Reading& reading, const Node& node, std::string_view noun,
                           const ReadOne& read_one) {
    std::vector<T> values;
    const auto add = [&](const Node& item) {
        if (auto value = read_one(item)) {
            values.push_back(std::move(*value));
        }
    };
    if (node.kind == Node::Kind::scalar) {
        add(node);
    } else if (reading.is_list(node, noun)) {
        if (node.items.empty()) {
            reading.mistake(node, fmt::format("{} that is empty", noun),
                            "add a value, or take it out");
        }
        for (const Node& item : node.items) {
            add(item);
        }
    }
    return values;
}

const KeyTable<Repetition>& repetition_keys() {
    static const KeyTable<Repetition> table{
        "a repetition",
        {
            {"channels", Need::optional,
             [](Reading& reading, const Node& node, Repetition& each) {
                 each.channels = read_values<Channels>(
                     reading, node, "a list of channels",
                     [&](const Node& item) { return read_channels(reading, item); });
             }},
            {"levels", Need::optional,
             [](Reading& reading, const Node& node, Repetition& each) {
                 each.levels = read_values<LevelTarget>(
                     reading, node, "a list of levels", [&](const Node& item) {
                         return reading.level(item, LevelUse::step, "a level");
                     });
             }},
            {"frequencies", Need::optional,
             [](Reading& reading, const Node& node, Repetition& each) {
                 each.frequencies = read_values<Hertz>(
                     reading, node, "a list of frequencies", [&](const Node& item) {
                         std::optional<Hertz> frequency;
                         store(frequency,
                               reading.quantity(item, Dimension::hertz, "a frequency", tone_range));
                         return frequency;
                     });
             }},
            {"loads", Need::optional,
             [](Reading& reading, const Node& node, Repetition& each) {
                 each.loads = read_values<std::optional<Ohms>>(
                     reading, node, "a list of loads", [&](const Node& item) {
                         std::optional<std::optional<Ohms>> load;
                         if (item.kind == Node::Kind::scalar && item.text == "open") {
                             load.emplace(std::nullopt);
                         } else if (const auto ohms = reading.quantity(
                                        item, Dimension::ohms, "a load (or “open”)", load_range)) {
                             load.emplace(Ohms{*ohms});
                         }
                         return load;
                     });
             }},
            {"volumes", Need::optional,
             [](Reading& reading, const Node& node, Repetition& each) {
                 each.volumes = read_values<std::string>(
                     reading, node, "a list of volume marks",
                     [&](const Node& item) { return reading.words(item, "a volume mark"); });
             }},
            {"tone_controls", Need::optional,
             [](Reading& reading, const Node& node, Repetition& each) {
                 each.tone_controls = read_values<std::string>(
                     reading, node, "a list of tone control settings", [&](const Node& item) {
                         return reading.word_of(item, "a setting of the tone controls",
                                                {"flat", "bass maximum", "bass minimum",
                                                 "treble maximum", "treble minimum"});
                     });
             }},
        }};
    return table;
}

// "4:1": how much larger the lower of two tones is.
std::optional<double> read_tone_ratio(Reading& reading, const Node& node) {
    const auto text = reading.words(node, "a ratio of two tones");
    if (!text) {
        return std::nullopt;
    }
    const std::size_t colon = text->find(':');
    const auto whole = [](std::string_view part) -> std::optional<double> {
        int number = 0;
        const auto [end, error] = std::from_chars(part.data(), part.data() + part.size(), number);
        const bool good =
            error == std::errc{} && end == part.data() + part.size() && number > 0 && number <= 100;
        return good ? std::optional<double>{number} : std::nullopt;
    };
    if (colon != std::string::npos) {
        const auto over = whole(std::string_view{*text}.substr(0, colon));
        const auto under = whole(std::string_view{*text}.substr(colon + 1));
        if (over && under) {
            return *over / *under;
        }
    }
    reading.mistake(node, fmt::format("“{}” is no ratio of two tones", escaped(*text)),
                    "write the lower tone's amplitude first, as in 4:1");
    return std::nullopt;
}

// A list whose items are a mapping, or the one word that matters alone: `- thd`.
template <class T>
void read_short_or_long(Reading& reading, const Node& node, std::string_view noun,
                        const KeyTable<T>& table, std::vector<T>& into) {
    if (!reading.is_list(node, noun)) {
        return;
    }
    for (const Node& item : node.items) {
        T one;
        one.place = item.place;
        if (item.kind == Node::Kind::scalar) {
            table.keys.front().read(reading, item, one);
        } else if (!read_mapping(reading, item, table, one)) {
            continue;
        }
        into.push_back(std::move(one));
    }
}

template <auto Member>
void read_words(Reading& reading, const Node& node, Step& step) {
    store(step.*Member, reading.words(node, "a word"));
}

const KeyTable<Step>& step_keys() {
    static const KeyTable<Step> table{
        "a step",
        {
            {"name", Need::required,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.name, reading.words(node, "a name"));
             }},
            {"prompt", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 Prompt prompt;
                 if (read_mapping(reading, node, prompt_keys(), prompt)) {
                     step.prompt = std::move(prompt);
                 }
             }},
            {"meters", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 read_short_or_long(reading, node, "a list of readings", meter_keys(), step.meters);
             }},
            {"input", Need::optional, read_words<&Step::input>},
            {"output", Need::optional, read_words<&Step::output>},
            {"path", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.path, reading.word_of(node, "a path", {"direct", "tone"}));
             }},
            {"volume", Need::optional, read_words<&Step::volume>},
            {"range", Need::optional, read_words<&Step::range>},
            {"load", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.load, reading.quantity(node, Dimension::ohms, "a load", load_range));
             }},
            {"driven", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.driven, read_channels(reading, node));
             }},
            {"signal", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.signal, read_signal(reading, node));
             }},
            {"frequency", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.frequency,
                       reading.quantity(node, Dimension::hertz, "a frequency", tone_range));
             }},
            {"tones", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 step.tones = read_values<Hertz>(
                     reading, node, "a list of two tones", [&](const Node& item) {
                         std::optional<Hertz> frequency;
                         store(frequency,
                               reading.quantity(item, Dimension::hertz, "a tone", tone_range));
                         return frequency;
                     });
             }},
            {"tone_ratio", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.tone_ratio, read_tone_ratio(reading, node));
             }},
            {"band", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.band, reading.band(node, "a band"));
             }},
            {"level", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 if (node.kind == Node::Kind::mapping) {
                     DistortionLimited limited;
                     if (read_mapping(reading, node, level_keys(), limited)) {
                         step.level = limited;
                     }
                 } else if (const auto level = reading.level(node, LevelUse::step, "a level")) {
                     step.level = *level;
                 }
             }},
            {"for_each", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 read_mapping(reading, node, repetition_keys(), step.for_each);
             }},
            {"settle", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.settle,
                       reading.quantity(node, Dimension::seconds, "a settling time", settle_range));
             }},
            {"record", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.record,
                       reading.quantity(node, Dimension::seconds, "a record length", record_range));
             }},
            {"dwell", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.dwell,
                       reading.quantity(node, Dimension::seconds, "a dwell", dwell_range));
             }},
            {"further_record", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.further_record,
                       reading.quantity(node, Dimension::seconds, "a further record's length",
                                        further_range));
             }},
            {"soak", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 step.soak = read_soak(reading, node);
             }},
            {"figures", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 read_short_or_long(reading, node, "a list of figures", figure_keys(),
                                    step.figures);
             }},
            {"after", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 step.after = reading.list_of_words(node, "a list of steps");
             }},
            {"stop_on", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.stop_on_fail,
                       reading.word<bool>(node, "something to stop on", {{"fail", true}}));
             }},
            {"cautions", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 step.cautions = read_cautions(reading, node);
             }},
        }};
    return table;
}

}  // namespace

std::vector<std::string> read_cautions(Reading& reading, const Node& node) {
    std::vector<std::string> cautions = reading.list_of_words(node, "a list of cautions");
    if (node.kind != Node::Kind::list) {
        return cautions;
    }
    std::vector<std::string_view> known;
    for (const Caution& caution : shipped_cautions()) {
        known.push_back(caution.name);
    }
    for (const Node& item : node.items) {
        const bool a_name = item.kind == Node::Kind::scalar && !item.text.empty() &&
                            item.text.find(' ') == std::string::npos;
        if (a_name && std::find(known.begin(), known.end(), item.text) == known.end()) {
            reading.unknown_word(item, "a caution that ships", known);
        }
    }
    return cautions;
}

std::optional<Step> read_step(Reading& reading, const Node& node) {
    Step step;
    step.place = node.place;
    if (!read_mapping(reading, node, step_keys(), step)) {
        return std::nullopt;
    }
    for (const Entry& entry : node.entries) {
        step.places[entry.key] = entry.value.place;
    }
    if (step.soak) {
        check_soak(reading, node);
    } else {
        check_signal(reading, node, step);
    }
    check_figures(reading, node, step);
    return step;
}

std::vector<KeyList> step_key_lists() {
    std::vector<KeyList> lists{
        key_list("step", step_keys()),           key_list("prompt", prompt_keys()),
        key_list("meter", meter_keys()),         key_list("figure", figure_keys()),
        key_list("limited_level", level_keys()), key_list("for_each", repetition_keys())};
    for (KeyList& list : soak_key_lists()) {
        lists.push_back(std::move(list));
    }
    return lists;
}

}  // namespace afterload::sequences
