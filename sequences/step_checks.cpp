#include "sequences/step_checks.hpp"

#include "sequences/quantity_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <string>
#include <vector>

namespace afterload::sequences {

namespace {

constexpr std::size_t most_repetitions = 1000;
constexpr double fewest_periods = 2.0;
constexpr double nominal = 0.02;

constexpr std::initializer_list<Signal> all_signals{Signal::silence,   Signal::tone,
                                                    Signal::two_tones, Signal::multitone,
                                                    Signal::sweep,     Signal::rising_tone};

bool steady_tone(const Step& step) {
    return step.signal == Signal::tone || step.signal == Signal::rising_tone;
}

bool over_a_band(const Step& step) {
    return step.signal == Signal::sweep || step.signal == Signal::multitone;
}

bool needs_a_curve(FigureKind figure) {
    switch (figure) {
        case FigureKind::frequency_response:
        case FigureKind::bandwidth_low:
        case FigureKind::bandwidth_high:
        case FigureKind::equalisation_error:
        case FigureKind::power_bandwidth:
            return true;
        default:
            return false;
    }
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

void check_repetition(Reading& reading, const Node& node, const Step& step) {
    const Node* const each = node.find("for_each");
    const auto twice = [&](std::string_view key, std::string_view list) {
        const Node* const own = node.find(key);
        if (own != nullptr && each != nullptr && each->find(list) != nullptr) {
            reading.mistake(*own, fmt::format("the {} stands here and in for_each", key),
                            "keep one of the two");
        }
    };
    twice("level", "levels");
    twice("frequency", "frequencies");
    twice("load", "loads");
    twice("volume", "volumes");
    std::size_t repetitions = 1;
    for (const std::size_t count :
         {step.for_each.channels.size(), step.for_each.levels.size(),
          step.for_each.frequencies.size(), step.for_each.loads.size(),
          step.for_each.volumes.size(), step.for_each.tone_controls.size()}) {
        repetitions *= std::max<std::size_t>(1, count);
    }
    if (repetitions > most_repetitions) {
        reading.mistake(at(node, "for_each"),
                        fmt::format("{} repetitions of one step: {} is the most", repetitions,
                                    most_repetitions));
    }
}

// Each signal with what it cannot do without, and what means nothing to it.
void check_shape(Reading& reading, const Node& node, const Step& step) {
    const std::string what = in_words(*step.signal);
    const Node& where = at(node, "signal");
    const Node* const each = node.find("for_each");
    const bool frequencies = node.find("frequency") != nullptr ||
                             (each != nullptr && each->find("frequencies") != nullptr);
    const bool levels =
        node.find("level") != nullptr || (each != nullptr && each->find("levels") != nullptr);
    if (step.signal == Signal::silence) {
        if (levels) {
            reading.mistake(where, "silence has no level", "take the level out, or play a tone");
        }
        return;
    }
    if (!levels) {
        reading.mistake(where, what + " without a level", "add level:");
    }
    if (steady_tone(step) && !frequencies) {
        reading.mistake(where, what + " without a frequency", "add frequency:");
    }
    if (step.signal == Signal::two_tones && node.find("tones") == nullptr) {
        reading.mistake(
            where, "two tones without their frequencies",
            "add tones: [60 Hz, 7 kHz] and tone_ratio: 4:1, or tones: [19 kHz, 20 kHz]");
    }
    if (node.find("tones") != nullptr && step.tones.size() != 2) {
        reading.mistake(at(node, "tones"), fmt::format("{} tones, not two", step.tones.size()),
                        "write the lower one first, as in [19 kHz, 20 kHz]");
    } else if (step.tones.size() == 2 && step.tones[0] >= step.tones[1]) {
        reading.mistake(at(node, "tones"), "the higher tone stands first",
                        "write the lower one first");
    }
    if (over_a_band(step) && node.find("band") == nullptr) {
        reading.mistake(where, what + " without a band", "add band: 10 Hz..20 kHz");
    }
}

void check_record(Reading& reading, const Node& node, const Step& step) {
    double lowest = 0.0;
    const auto lower = [&](Hertz frequency) {
        const double f = frequency.in<Hertz>();
        lowest = lowest == 0.0 ? f : std::min(lowest, f);
    };
    if (steady_tone(step)) {
        if (step.frequency) {
            lower(*step.frequency);
        }
        std::for_each(step.for_each.frequencies.begin(), step.for_each.frequencies.end(), lower);
    } else if (step.signal == Signal::two_tones && step.tones.size() == 2) {
        lower(step.tones[0]);
        lower(Hertz{step.tones[1].in<Hertz>() - step.tones[0].in<Hertz>()});
    } else if (step.signal == Signal::multitone && step.band) {
        lower(step.band->low);
    }
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

void check_curve(Reading& reading, const Node& where, const Step& step,
                 const FigureRequest& request) {
    if (over_a_band(step)) {
        return;
    }
    const std::string_view figure = name(request.figure);
    const std::vector<Hertz>& frequencies = step.for_each.frequencies;
    if (frequencies.size() < 2) {
        reading.mistake(where, fmt::format("{} needs more than one frequency", figure),
                        "add for_each: {frequencies: [...]}");
    }
    if (request.reference_frequency) {
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
}

void check_separation(Reading& reading, const Node& where, const Step& step) {
    if (step.signal == Signal::multitone) {
        return;  // each channel has tones of its own
    }
    const std::vector<Channels>& each = step.for_each.channels;
    const bool one = each.empty()
                         ? step.driven != Channels::both
                         : std::find(each.begin(), each.end(), Channels::both) == each.end();
    if (!one) {
        reading.mistake(where, "separation drives one channel and reads the other",
                        "add for_each: {channels: [left, right]}, or play a multitone");
    }
}

// Figures that hold records of several levels, loads or volumes against each other.
void check_lists(Reading& reading, const Node& where, const Step& step,
                 const FigureRequest& request) {
    const std::string_view figure = name(request.figure);
    switch (request.figure) {
        case FigureKind::level_linearity:
            if (step.for_each.levels.size() < 2) {
                reading.mistake(where, "level_linearity needs more than one level",
                                "add for_each: {levels: [...]}");
            }
            break;
        case FigureKind::output_impedance:
        case FigureKind::damping_factor:
            if (step.for_each.loads.size() != 2) {
                reading.mistake(where, fmt::format("{} needs two loads", figure),
                                "add for_each: {loads: [8 ohm, open]}");
            }
            break;
        case FigureKind::volume_tracking:
            if (step.for_each.volumes.size() < 2) {
                reading.mistake(where, "volume_tracking needs more than one volume mark",
                                "add for_each: {volumes: [maximum, \"-20 dB\"]}");
            }
            break;
        case FigureKind::tone_range_error:
            if (step.for_each.tone_controls.size() < 2 ||
                step.for_each.tone_controls.front() != "flat") {
                reading.mistake(where, "tone_range_error needs the flat setting and another",
                                "add for_each: {tone_controls: [flat, bass maximum]}");
            }
            break;
        case FigureKind::distortion_limited_power:
        case FigureKind::overload_level:
            if (!step.level || !std::holds_alternative<DistortionLimited>(*step.level)) {
                reading.mistake(where,
                                fmt::format("{} needs a level limited by distortion", figure),
                                "write level: {distortion: 1 %, up_to: rated + 1 dB}");
            }
            break;
        default:
            break;
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
        std::string others;
        for (const Signal other : all_signals) {
            if (answers(other, request.figure)) {
                others += (others.empty() ? "play " : " or ") + in_words(other);
            }
        }
        reading.mistake(
            where,
            others.empty()
                ? fmt::format("{} is read from a meter, not from a record", figure)
                : fmt::format("{} cannot be had from {}", figure, in_words(*step.signal)),
            others.empty() ? "add it to meters:" : others);
        return;
    }
    if (needs_a_curve(request.figure)) {
        check_curve(reading, where, step, request);
    }
    if (request.figure == FigureKind::channel_separation) {
        check_separation(reading, where, step);
    }
    check_lists(reading, where, step, request);
}

}  // namespace

bool answers(Signal signal, FigureKind figure) {
    const auto among = [signal](std::initializer_list<Signal> signals) {
        return std::find(signals.begin(), signals.end(), signal) != signals.end();
    };
    switch (figure) {
        case FigureKind::noise_voltage:
        case FigureKind::signal_to_noise:
        case FigureKind::hum_voltage:
        case FigureKind::random_steps:
            return signal == Signal::silence;
        case FigureKind::output_voltage:
        case FigureKind::output_power:
        case FigureKind::distortion_limited_power:
        case FigureKind::power_bandwidth:
        case FigureKind::clipping_symmetry:
        case FigureKind::overload_level:
        case FigureKind::input_sensitivity:
        case FigureKind::level_linearity:
        case FigureKind::output_impedance:
        case FigureKind::damping_factor:
        case FigureKind::tone_range_error:
        case FigureKind::volume_tracking:
        case FigureKind::frequency:
        case FigureKind::harmonic:
        case FigureKind::sinad:
            return signal == Signal::tone;
        case FigureKind::thd:
            return among({Signal::tone, Signal::sweep});
        case FigureKind::thd_plus_noise:
        case FigureKind::gain:
        case FigureKind::channel_balance:
        case FigureKind::channel_separation:
            return among({Signal::tone, Signal::multitone});
        case FigureKind::frequency_response:
        case FigureKind::bandwidth_low:
        case FigureKind::bandwidth_high:
        case FigureKind::equalisation_error:
            return among({Signal::tone, Signal::sweep, Signal::multitone});
        case FigureKind::polarity:
        case FigureKind::channel_identity:
            return signal == Signal::multitone;
        case FigureKind::modulation_distortion:
        case FigureKind::difference_frequency_distortion:
            return signal == Signal::two_tones;
        case FigureKind::short_term_power:
            return signal == Signal::rising_tone;
        default:
            return false;
    }
}

void check_signal(Reading& reading, const Node& node, const Step& step) {
    if (node.find("signal") != nullptr && !step.signal) {
        return;  // a word that is not known is mistake enough
    }
    check_repetition(reading, node, step);
    if (step.signal) {
        check_shape(reading, node, step);
        check_record(reading, node, step);
    }
}

void check_figures(Reading& reading, const Node& node, const Step& step) {
    const Node* const figures = node.find("figures");
    const bool signal_known = step.signal.has_value() || node.find("signal") == nullptr;
    if (figures == nullptr || !signal_known || figures->items.size() != step.figures.size()) {
        return;
    }
    for (std::size_t i = 0; i < step.figures.size(); ++i) {
        const Node& where = item_at(node, "figures", i);
        const Node* const kind = where.kind == Node::Kind::mapping ? where.find("figure") : &where;
        if (kind != nullptr && figure_kind(kind->text)) {
            check_figure(reading, *kind, step, step.figures[i]);
        }
    }
}

}  // namespace afterload::sequences
