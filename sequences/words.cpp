#include "sequences/words.hpp"

#include <algorithm>
#include <vector>

namespace afterload::sequences {

std::optional<FigureKind> read_figure_kind(Reading& reading, const Node& node) {
    if (!reading.is_scalar(node, "a figure")) {
        return std::nullopt;
    }
    if (const auto kind = figure_kind(node.text)) {
        return kind;
    }
    std::vector<std::string_view> known;
    for (const FigureKind kind : all_figure_kinds()) {
        known.push_back(name(kind));
    }
    reading.unknown_word(node, "a figure", known);
    return std::nullopt;
}

std::optional<Channels> read_channels(Reading& reading, const Node& node) {
    return reading.word<Channels>(
        node, "a choice of channels",
        {{"left", Channels::left}, {"right", Channels::right}, {"both", Channels::both}});
}

std::optional<Weighting> read_weighting(Reading& reading, const Node& node) {
    return reading.word<Weighting>(node, "a weighting",
                                   {{"A", Weighting::a},
                                    {"none", Weighting::unweighted},
                                    {"ITU-R 468", Weighting::itu_r_468}});
}

std::optional<Detector> read_detector(Reading& reading, const Node& node) {
    return reading.word<Detector>(node, "a detector",
                                  {{"rms", Detector::rms}, {"quasi-peak", Detector::quasi_peak}});
}

std::string_view name(Signal signal) {
    switch (signal) {
        case Signal::silence:
            return "silence";
        case Signal::tone:
            return "tone";
        case Signal::two_tones:
            return "two_tones";
        case Signal::multitone:
            return "multitone";
        case Signal::sweep:
            return "sweep";
        case Signal::rising_tone:
            return "rising_tone";
    }
    return "";
}

std::string in_words(Signal signal) {
    std::string text{name(signal)};
    std::replace(text.begin(), text.end(), '_', ' ');
    return signal == Signal::silence || signal == Signal::two_tones ? text : "a " + text;
}

std::optional<Signal> signal_named(std::string_view wanted) {
    for (const Signal signal : {Signal::silence, Signal::tone, Signal::two_tones, Signal::multitone,
                                Signal::sweep, Signal::rising_tone}) {
        if (name(signal) == wanted) {
            return signal;
        }
    }
    return std::nullopt;
}

std::optional<Signal> read_signal(Reading& reading, const Node& node) {
    return reading.word<Signal>(node, "a signal",
                                {{"silence", Signal::silence},
                                 {"tone", Signal::tone},
                                 {"two_tones", Signal::two_tones},
                                 {"multitone", Signal::multitone},
                                 {"sweep", Signal::sweep},
                                 {"rising_tone", Signal::rising_tone}});
}

}  // namespace afterload::sequences
