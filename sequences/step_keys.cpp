#include "sequences/step_keys.hpp"

#include "sequences/sequence_reader.hpp"
#include "sequences/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace afterload::sequences {

namespace {

constexpr Range tone_range{0.1, 500e3};
constexpr Range settle_range{0.0, 600.0};
constexpr Range record_range{0.01, 600.0};
constexpr Range dwell_range{0.0, 4.0 * 3600.0};
constexpr std::size_t most_repetitions = 1000;

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
                       reading.word_of(node, "something a meter reads", meter_quantities()));
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
                 const bool output = target && (target->kind == LevelTarget::Kind::output_power ||
                                                target->kind == LevelTarget::Kind::rated_fraction);
                 if (target && !output) {
                     reading.mistake(node, "a level limited by distortion ends at an output",
                                     "write it in W, or as rated + 1 dB");
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
        }};
    return table;
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
                 store(step.load, reading.quantity(node, Dimension::ohms, "a load", {0.1, 1e6}));
             }},
            {"driven", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.driven, read_channels(reading, node));
             }},
            {"signal", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.signal, reading.word<Signal>(
                                        node, "a signal",
                                        {{"silence", Signal::silence}, {"tone", Signal::tone}}));
             }},
            {"frequency", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 store(step.frequency,
                       reading.quantity(node, Dimension::hertz, "a frequency", tone_range));
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
            {"figures", Need::optional,
             [](Reading& reading, const Node& node, Step& step) {
                 read_short_or_long(reading, node, "a list of figures", figure_keys(),
                                    step.figures);
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

// What a record of each signal can answer.
bool answers(Signal signal, FigureKind figure) {
    switch (figure) {
        case FigureKind::noise_voltage:
        case FigureKind::signal_to_noise:
        case FigureKind::hum_voltage:
            return signal == Signal::silence;
        case FigureKind::output_voltage:
        case FigureKind::output_power:
        case FigureKind::distortion_limited_power:
        case FigureKind::gain:
        case FigureKind::channel_balance:
        case FigureKind::frequency:
        case FigureKind::thd:
        case FigureKind::thd_plus_noise:
        case FigureKind::harmonic:
        case FigureKind::sinad:
        case FigureKind::frequency_response:
        case FigureKind::bandwidth_low:
        case FigureKind::bandwidth_high:
        case FigureKind::channel_separation:
            return signal == Signal::tone;
        default:
            return false;
    }
}

bool needs_a_curve(FigureKind figure) {
    return figure == FigureKind::frequency_response || figure == FigureKind::bandwidth_low ||
           figure == FigureKind::bandwidth_high;
}

// The node to point at: the value of a key where it stands, else the step.
const Node& at(const Node& step, std::string_view key) {
    const Node* const found = step.find(key);
    return found != nullptr ? *found : step;
}

// What a mistake in a list item points at.
const Node& item_at(const Node& step, std::string_view key, std::size_t index) {
    const Node& list = at(step, key);
    return list.kind == Node::Kind::list && index < list.items.size() ? list.items[index] : list;
}

void check_signal(Reading& reading, const Node& node, const Step& step) {
    const bool wants_tone = step.signal == Signal::tone;
    if (node.find("signal") != nullptr && !step.signal) {
        return;  // a word that is not known is mistake enough
    }
    const Node* const level = node.find("level");
    const Node* const frequency = node.find("frequency");
    const Node* const each = node.find("for_each");
    const bool each_level = each != nullptr && each->find("levels") != nullptr;
    const bool each_frequency = each != nullptr && each->find("frequencies") != nullptr;
    if (wants_tone && frequency == nullptr && !each_frequency) {
        reading.mistake(at(node, "signal"), "a tone without a frequency", "add frequency:");
    }
    if (wants_tone && level == nullptr && !each_level) {
        reading.mistake(at(node, "signal"), "a tone without a level", "add level:");
    }
    if (!wants_tone && node.find("signal") != nullptr && (level != nullptr || each_level)) {
        reading.mistake(at(node, "signal"), "silence has no level",
                        "take the level out, or play a tone");
    }
    if (level != nullptr && each_level) {
        reading.mistake(*level, "the level stands here and in for_each", "keep one of the two");
    }
    if (frequency != nullptr && each_frequency) {
        reading.mistake(*frequency, "the frequency stands here and in for_each",
                        "keep one of the two");
    }
    const std::size_t repetitions = std::max<std::size_t>(1, step.for_each.channels.size()) *
                                    std::max<std::size_t>(1, step.for_each.levels.size()) *
                                    std::max<std::size_t>(1, step.for_each.frequencies.size());
    if (repetitions > most_repetitions) {
        reading.mistake(at(node, "for_each"),
                        fmt::format("{} repetitions of one step: {} is the most", repetitions,
                                    most_repetitions));
    }
}

void check_figure(Reading& reading, const Node& where, const Step& step,
                  const FigureRequest& request) {
    const std::string_view figure = name(request.figure);
    if (!step.signal) {
        reading.mistake(where,
                        fmt::format("{} needs a record, and this step plays nothing", figure),
                        "add signal: tone or signal: silence");
        return;
    }
    if (!answers(*step.signal, request.figure)) {
        const bool other =
            answers(*step.signal == Signal::tone ? Signal::silence : Signal::tone, request.figure);
        reading.mistake(
            where,
            other ? fmt::format("{} cannot be had from {}", figure,
                                *step.signal == Signal::tone ? "a tone" : "silence")
                  : fmt::format("{} is not measured by a step of this version", figure),
            other ? fmt::format("play {}", *step.signal == Signal::tone ? "silence" : "a tone")
                  : "");
        return;
    }
    const std::vector<Hertz>& frequencies = step.for_each.frequencies;
    if (needs_a_curve(request.figure) && frequencies.size() < 2) {
        reading.mistake(where, fmt::format("{} needs more than one frequency", figure),
                        "add for_each: {frequencies: [...]}");
    }
    if (needs_a_curve(request.figure) && request.reference_frequency) {
        constexpr double nominal = 0.02;
        const double wanted = request.reference_frequency->in<Hertz>();
        const bool there = std::any_of(frequencies.begin(), frequencies.end(), [&](Hertz each) {
            return std::abs(each.in<Hertz>() - wanted) <= nominal * wanted;
        });
        if (!there) {
            reading.mistake(where,
                            fmt::format("the reference frequency {} is not among the frequencies",
                                        quantity_text(wanted, Dimension::hertz)),
                            "add it to for_each");
        }
    }
    if (request.figure == FigureKind::channel_separation) {
        const std::vector<Channels>& each = step.for_each.channels;
        const bool one = each.empty()
                             ? step.driven != Channels::both
                             : std::find(each.begin(), each.end(), Channels::both) == each.end();
        if (!one) {
            reading.mistake(where, "separation drives one channel and reads the other",
                            "add for_each: {channels: [left, right]}");
        }
    }
}

void check_record(Reading& reading, const Node& node, const Step& step) {
    if (step.signal != Signal::tone) {
        return;
    }
    double lowest = step.frequency ? step.frequency->in<Hertz>() : 0.0;
    for (const Hertz each : step.for_each.frequencies) {
        lowest = lowest == 0.0 ? each.in<Hertz>() : std::min(lowest, each.in<Hertz>());
    }
    constexpr double fewest_periods = 2.0;
    if (lowest > 0.0 && step.record.in<Seconds>() * lowest < fewest_periods) {
        reading.mistake(at(node, "record"),
                        fmt::format("a record of {} holds fewer than two periods of {}",
                                    quantity_text(step.record.in<Seconds>(), Dimension::seconds),
                                    quantity_text(lowest, Dimension::hertz)),
                        fmt::format("write at least {}",
                                    quantity_text(std::ceil(1e3 * fewest_periods / lowest) / 1e3,
                                                  Dimension::seconds)));
    }
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
    check_signal(reading, node, step);
    check_record(reading, node, step);
    const Node* const figures = node.find("figures");
    const bool signal_known = step.signal.has_value() || node.find("signal") == nullptr;
    if (figures != nullptr && signal_known && figures->items.size() == step.figures.size()) {
        for (std::size_t i = 0; i < step.figures.size(); ++i) {
            const Node& where = item_at(node, "figures", i);
            const Node* const kind =
                where.kind == Node::Kind::mapping ? where.find("figure") : &where;
            if (kind != nullptr && figure_kind(kind->text)) {
                check_figure(reading, *kind, step, step.figures[i]);
            }
        }
    }
    return step;
}

std::vector<KeyList> step_key_lists() {
    return {key_list("step", step_keys()),           key_list("prompt", prompt_keys()),
            key_list("meter", meter_keys()),         key_list("figure", figure_keys()),
            key_list("limited_level", level_keys()), key_list("for_each", repetition_keys())};
}

}  // namespace afterload::sequences
