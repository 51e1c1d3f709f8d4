#include "runner/step_levels.hpp"

#include "analysis/level.hpp"
#include "analysis/phono_curve.hpp"
#include "sequences/review.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace afterload::runner {
namespace {

using sequences::Combination;
using sequences::Signal;
using sequences::Step;

constexpr Gain tone_control_boost{12.0};  // more than tone controls usually lift

/// A response is measured at one drive, found at its reference: else the level would follow it.
std::optional<Hertz> response_reference(const Step& step) {
    for (const auto& request : step.figures) {
        switch (request.figure) {
            case FigureKind::frequency_response:
            case FigureKind::bandwidth_low:
            case FigureKind::bandwidth_high:
            case FigureKind::equalisation_error:
                return request.reference_frequency.value_or(Hertz{1000.0});
            default:
                break;
        }
    }
    return std::nullopt;
}

/// Output at `frequency` over that at `reference` for the same drive, at the most.
double largest_lift(const StepPath& path, Hertz reference, Hertz frequency) {
    double lift = 1.0;
    if (path.input == "phono") {
        using analysis::PhonoCurve;
        const Gain gain = analysis::replay_gain(PhonoCurve::iec_60098, frequency) -
                          analysis::replay_gain(PhonoCurve::iec_60098, reference);
        lift *= std::max(1.0, amplitude_ratio(gain).in<AmplitudeRatio>());
    }
    if (path.tone_controls.find("maximum") != std::string::npos) {
        lift *= amplitude_ratio(tone_control_boost).in<AmplitudeRatio>();
    }
    return lift;
}

}  // namespace

bool drives(Channels which, std::size_t channel) {
    return which == Channels::both || (which == Channels::left) == (channel == 0);
}

bool holds_drive(const Step& step) {
    return response_reference(step).has_value() || step.for_each.loads.size() > 1 ||
           step.for_each.volumes.size() > 1 || step.for_each.tone_controls.size() > 1;
}

bool may_record_again(const Step& step) {
    const bool any_part_will_do = step.signal == Signal::silence || step.signal == Signal::tone ||
                                  step.signal == Signal::two_tones;
    return any_part_will_do && step.for_each.loads.empty() && step.for_each.volumes.empty() &&
           step.for_each.tone_controls.empty();
}

Combination where_level_is_found(const Step& step, Combination combination) {
    const auto reference = response_reference(step);
    if (reference && step.signal == Signal::tone) {
        combination.frequency = reference;
    }
    return combination;
}

std::string key_of_level(const Combination& combination) {
    std::string key{name(combination.driven)};
    if (combination.level && std::holds_alternative<LevelTarget>(*combination.level)) {
        key += "|" + text(std::get<LevelTarget>(*combination.level));
    }
    if (combination.frequency) {
        key += fmt::format("|{}", combination.frequency->in<Hertz>());
    }
    return key;
}

std::string key_of_load(const sequences::BenchFile& bench, bool open, std::optional<Ohms> load) {
    if (open) {
        return "|open";
    }
    const bool first = !load || same_load(*load, sequences::load_on(bench, std::nullopt));
    return first ? std::string{} : fmt::format("|{:.3g} ohm", load->in<Ohms>());
}

std::vector<Turn> turns_to(const Combination& combination, const StepPath& path) {
    std::vector<Turn> turns;
    if (!combination.volume.empty() && combination.volume != path.volume) {
        turns.push_back({"Volume at " + combination.volume, "volume", combination.volume});
    }
    if (!combination.tone_controls.empty() && combination.tone_controls != path.tone_controls) {
        for (const std::string control : {"bass", "treble"}) {
            const bool this_one = combination.tone_controls.starts_with(control);
            const std::string position =
                this_one ? combination.tone_controls.substr(control.size() + 1) : "centre";
            turns.push_back(
                {fmt::format("Tone controls: {} at {}", control, position), control, position});
        }
    }
    return turns;
}

DrivenAs played_by(const Step& step, const Combination& combination) {
    DrivenAs driven;
    driven.signal = step.signal.value_or(Signal::silence);
    driven.nominal = combination.frequency.value_or(level_frequency);
    driven.dwell = step.dwell;
    if (driven.signal == Signal::two_tones) {
        driven.tones = step.tones;
        driven.tone_ratio = step.tone_ratio;
    }
    if (driven.signal == Signal::sweep || driven.signal == Signal::multitone) {
        driven.band = step.band;
    }
    if (driven.signal != Signal::silence && driven.signal != Signal::tone &&
        driven.signal != Signal::two_tones) {
        driven.period = step.record;
    }
    driven.open = combination.open;
    driven.load = combination.load;
    driven.volume = combination.volume;
    driven.tone_controls = combination.tone_controls;
    return driven;
}

double largest_lift(const StepPath& path, const DrivenAs& driven) {
    const Hertz found = driven.signal == Signal::tone || driven.signal == Signal::rising_tone
                            ? driven.nominal
                            : level_frequency;
    Hertz lowest = driven.nominal;
    if (driven.band) {
        lowest = driven.band->low;
    } else if (!driven.tones.empty()) {
        lowest = driven.tones.front();
    }
    return largest_lift(path, found, lowest);
}

}  // namespace afterload::runner
