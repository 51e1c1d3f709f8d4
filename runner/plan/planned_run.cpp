#include "runner/plan/planned_run.hpp"

#include "analysis/level.hpp"
#include "runner/acquire.hpp"
#include "runner/driver.hpp"
#include "runner/evaluation/bench_share.hpp"
#include "runner/evaluation/driven_stimulus.hpp"
#include "runner/evaluation/step_path.hpp"
#include "runner/level_steps.hpp"
#include "runner/load_look.hpp"
#include "runner/papers/figure_words.hpp"
#include "runner/papers/number_text.hpp"
#include "runner/papers/time_text.hpp"
#include "runner/power_search.hpp"
#include "runner/step_levels.hpp"
#include "sequences/players.hpp"
#include "sequences/review.hpp"
#include "sequences/soak.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

namespace afterload::runner {
namespace {

using sequences::Combination;
using sequences::DistortionLimited;
using sequences::Signal;
using sequences::Step;

/// Of line inputs to speakers; only the looks on the way to a level are counted with it.
constexpr double usual_gain_db = 43.0;
/// A search for the largest power begins at the rated one, which a healthy unit passes by about a
/// decibel in quarters, and is halved five times.
constexpr int usual_search_looks = 12;
constexpr Seconds least_silence{0.5};  // a silence settles at least this long, twice

/// How long something takes, and how long at the most.
struct Span {
    Seconds about;
    Seconds at_most;
};

std::string counted(std::size_t count, std::string_view one, std::string_view many) {
    return fmt::format("{} {}", count, count == 1 ? one : many);
}

std::string words_of(const sequences::StepLevel& level) {
    if (const auto* target = std::get_if<LevelTarget>(&level)) {
        return text(*target);
    }
    const auto& limited = std::get<DistortionLimited>(level);
    const std::string distortion =
        limited.thd ? plain(100.0 * *limited.thd, 3) + " %" : std::string{"the rated distortion"};
    return "up to " + text(limited.up_to) + " at " + distortion;
}

/// "tone, 13 frequencies, 1 W".
std::string plays_words(const Step& step) {
    if (!step.signal) {
        return {};
    }
    std::string out{sequences::in_words(*step.signal)};
    for (const std::string_view article : {"a ", "an "}) {
        if (out.starts_with(article)) {
            out.erase(0, article.size());
        }
    }
    const auto& each = step.for_each;
    const auto add = [&out](const std::string& part) { out += ", " + part; };
    if (!each.frequencies.empty()) {
        add(counted(each.frequencies.size(), "frequency", "frequencies"));
    } else if (step.signal == Signal::tone && step.frequency) {
        add(quantity_text(step.frequency->in<Hertz>(), "Hz", 5));
    }
    if (step.band) {
        add(quantity_text(step.band->low.in<Hertz>(), "Hz", 5) + " to " +
            quantity_text(step.band->high.in<Hertz>(), "Hz", 5));
    }
    for (std::size_t i = 0; i < step.tones.size(); ++i) {
        add(quantity_text(step.tones[i].in<Hertz>(), "Hz", 5));
    }
    if (!each.levels.empty()) {
        add(counted(each.levels.size(), "level", "levels"));
    } else if (step.level) {
        add(words_of(*step.level));
    }
    if (!each.channels.empty()) {
        add("one channel at a time");
    } else if (step.driven != Channels::both && step.signal != Signal::silence) {
        add(fmt::format("{} alone", name(step.driven)));
    }
    if (!each.loads.empty()) {
        add("with and without load");
    }
    if (!each.volumes.empty()) {
        add(counted(each.volumes.size(), "volume mark", "volume marks"));
    }
    if (!each.tone_controls.empty()) {
        add(counted(each.tone_controls.size(), "tone setting", "tone settings"));
    }
    return out;
}

std::vector<std::string> answers_of(const Step& step) {
    std::vector<std::string> out;
    for (const auto& meter : step.meters) {
        std::string words = meter.quantity == "dc_offset" ? "DC offset" : meter.quantity;
        std::replace(words.begin(), words.end(), '_', ' ');
        out.push_back(meter.gate ? words + " (gate)" : words);
    }
    for (const auto& request : step.figures) {
        const std::string words{runner::words(request.figure)};
        if (std::find(out.begin(), out.end(), words) == out.end()) {
            out.push_back(words);
        }
    }
    return out;
}

class Planner {
public:
    explicit Planner(const RunPlan& plan) : plan_{plan} {}

    PlannedRun whole() {
        const auto& unit = *plan_.sheet.unit;
        run_.unit = unit.maker + " " + unit.model;
        run_.sequence = plan_.sequence.title;
        run_.bench = plan_.bench.name;
        for (const Channels channel : {Channels::left, Channels::right}) {
            for (const auto& load : plan_.bench.loads) {
                if (load.channel == channel || load.channel == Channels::both) {
                    run_.loads.push_back(
                        {std::string{name(channel)}, load.resistance, load.continuous, {}});
                }
            }
        }
        for (const Step& step : plan_.sequence.steps) {
            add(step);
        }
        return std::move(run_);
    }

private:
    /// What is known of a path's gain, as the level finder would.
    struct Known {
        std::vector<Hertz> frequencies;
        double highest = 0.0;
    };
    /// The level of one combination.
    struct Asked {
        double target = 0.0;   ///< V rms that is gone for first
        double most = 0.0;     ///< V rms never passed where the level is found
        double highest = 0.0;  ///< the same over everything that the record plays
        bool search = false;
    };

    void add(const Step& step) {
        PlannedStep planned;
        planned.name = step.name;
        planned.plays = plays_words(step);
        if (sequences::generator_plays(plan_.bench, step)) {
            planned.plays += ", from the generator";
        }
        planned.answers = answers_of(step);
        if (step.prompt) {
            planned.prompt = step.prompt->title;
            run_.prompts.push_back(step.prompt->title);
        }
        path_ = path_after(path_, step);
        if (step.soak) {
            add_soak(step, *step.soak, planned);
        } else if (step.signal == Signal::silence) {
            add_silence(step, planned);
        } else if (step.signal) {
            add_driven(step, planned);
        }
        planned.at_most += planned.about.other;
        run_.about += planned.about;
        run_.at_most += planned.at_most;
        run_.steps.push_back(std::move(planned));
    }

    /// A tone of its level held as long; what is measured again within it takes of its time, but
    /// for what comes before and after.
    void add_soak(const Step& step, const sequences::Soak& soak, PlannedStep& planned) {
        Step held = step;
        held.soak = nullptr;
        held.signal = Signal::tone;
        held.frequency = soak.frequency;
        held.level = soak.level;
        held.record = Seconds{0.0};
        held.further_record = Seconds{0.0};
        held.dwell = soak.duration;
        add_driven(held, planned);
        planned.records = 0;
        planned.plays =
            fmt::format("soak: {}, {}", words_of(soak.level), duration_words(soak.duration));
        for (const sequences::Remeasured& again : soak.remeasure) {
            const double within = again.every ? std::floor(soak.duration / *again.every) : 0.0;
            const int times = static_cast<int>(within) + (again.hot ? 1 : 0);
            const int outside = (again.at_start ? 1 : 0) + (again.at_end ? 1 : 0);
            for (const Step& nested : again.steps) {
                PlannedStep one;
                if (nested.signal == Signal::silence) {
                    add_silence(nested, one);
                } else if (nested.signal) {
                    add_driven(nested, one);
                }
                planned.records += (times + outside) * one.records;
                for (int i = 0; i < outside; ++i) {
                    planned.about += one.about;
                    planned.at_most += one.at_most;
                }
                for (const std::string& answer : answers_of(nested)) {
                    if (std::find(planned.answers.begin(), planned.answers.end(), answer) ==
                        planned.answers.end()) {
                        planned.answers.push_back(answer);
                    }
                }
            }
        }
    }

    static void add_silence(const Step& step, PlannedStep& planned) {
        planned.records = 1;
        planned.about.settling = 2.0 * std::max(step.settle, least_silence);
        planned.about.recording = step.record;
        planned.at_most = planned.about.settling + further_settling +
                          static_cast<double>(most_captures) * step.record + further(step);
    }

    /// One further record with what comes before it.
    static Seconds further(const Step& step) {
        return may_record_again(step) && step.further_record > Seconds{0.0}
                   ? step.settle + step.dwell + further_settling +
                         static_cast<double>(most_captures) * step.further_record
                   : Seconds{0.0};
    }

    void add_driven(const Step& step, PlannedStep& planned) {
        const bool hold = holds_drive(step);
        std::set<std::string> held;
        for (const Combination& combination : sequences::combinations(step)) {
            for (const Turn& turn : turns_to(combination, path_)) {
                run_.prompts.push_back(turn.title);
            }
            if (!combination.volume.empty()) {
                path_.volume = combination.volume;
            }
            if (!combination.tone_controls.empty()) {
                path_.tone_controls = combination.tone_controls;
            }
            const Combination found_at = where_level_is_found(step, combination);
            const bool known = !held.insert(key_of_level(found_at)).second && hold;
            const DrivenAs driven = played_by(step, combination);
            const Asked asked = asked_for(step, combination, driven);
            Span finding{};
            if (!known) {
                finding = find_level(step, found_at, asked, combination, planned);
            }
            const bool playing = !known && step.signal == Signal::tone &&
                                 found_at.frequency == combination.frequency;
            add_record(step, combination, driven, asked, playing, finding, planned);
        }
    }

    [[nodiscard]] Asked asked_for(const Step& step, const Combination& combination,
                                  const DrivenAs& driven) const {
        const Ohms load = sequences::load_on(plan_.bench, combination.load);
        const sequences::StepLevel level = combination.level.value_or(
            sequences::StepLevel{LevelTarget{LevelTarget::Kind::output_power, 1.0}});
        const auto rated = sequences::rated_power(plan_.sheet, load, combination.driven);
        const auto output = sequences::output_asked(level, load, rated ? rated->power : Watts{1.0});
        Asked asked;
        asked.search = std::holds_alternative<DistortionLimited>(level);
        // A drive leaves the output open: the bench's own limits are what is sure.
        asked.most = output ? output->in<VoltsRms>()
                            : largest_output(plan_.bench, load,
                                             step.range.value_or(resting_range(plan_.bench).name));
        asked.target = asked.search && rated
                           ? std::min(asked.most, voltage_for(rated->power, load).in<VoltsRms>())
                           : asked.most;
        asked.highest =
            std::min(largest_lift(path_, driven) * asked.most,
                     std::max(asked.most,
                              largest_output(plan_.bench, load, resting_range(plan_.bench).name)));
        return asked;
    }

    /// V rms at the output that the search for a level begins with.
    double first_look(Hertz frequency, Ohms load, double target, const Combination& combination) {
        const std::string into = key_of_load(plan_.bench, combination.open, combination.load);
        Known& known = known_[key_of(path_) + into];
        double& other_way = ways_[terminals_of(path_) + into];
        const bool same =
            std::any_of(known.frequencies.begin(), known.frequencies.end(),
                        [&](Hertz other) { return std::abs(other / frequency - 1.0) < 0.01; });
        double first = known_first_output(target, known.highest, same);
        if (known.frequencies.empty()) {
            first = other_way > 0.0 ? other_way_first_output(target, other_way)
                                    : first_drive_unknown(target, load) *
                                          amplitude_ratio(Gain{usual_gain_db}).in<AmplitudeRatio>();
        }
        if (!same) {
            known.frequencies.push_back(frequency);
        }
        known.highest = std::max(known.highest, target);
        other_way = std::max(other_way, target);
        return first;
    }

    /// The first low level of a pair of terminals is read without the load as well.
    void add_load_look(const Step& step, Hertz frequency, Ohms load, const Asked& asked,
                       const Combination& combination, PlannedStep& planned, Span& span) {
        const auto& loads = plan_.bench.loads;
        const bool switched = plan_.bench.simulated ||
                              std::any_of(loads.begin(), loads.end(), sequences::is_switched);
        if (!switched || combination.open || !may_be_driven_open(plan_.sheet) ||
            !path_.output.starts_with("speaker") ||
            VoltsRms{asked.target} > most_for_load_look(load)) {
            return;
        }
        const std::string terminals =
            terminals_of(path_) + key_of_load(plan_.bench, combination.open, combination.load);
        bool wanted = false;
        for (std::size_t c = 0; c < 2; ++c) {
            wanted = (drives(combination.driven, c) &&
                      looked_.insert(terminals + std::to_string(c)).second) ||
                     wanted;
        }
        if (wanted) {
            const Seconds again =
                static_cast<double>(most_looks - 1) * load_look_reading(frequency);
            const Seconds loaded = load_look_loaded(frequency, step.settle);
            span.about += load_look_length(frequency, step.settle);
            span.at_most += load_look_length(frequency, step.settle) + 2.0 * again;
            warm(combination, planned, asked.target, loaded, loaded + again);
        }
    }

    Span find_level(const Step& step, const Combination& found_at, const Asked& asked,
                    const Combination& combination, PlannedStep& planned) {
        const Hertz frequency = found_at.frequency.value_or(level_frequency);
        const Ohms load = sequences::load_on(plan_.bench, combination.load);
        const std::vector<double> outputs =
            outputs_to(asked.target, first_look(frequency, load, asked.target, combination));
        const Seconds look = look_length(frequency);
        Span span{Seconds{0.0}, static_cast<double>(most_level_steps) *
                                    (step.settle + static_cast<double>(most_looks) * look)};
        for (const double output : outputs) {
            const Seconds one = look + (is_last_step(output, asked.target)
                                            ? step.settle
                                            : std::min(step.settle, approach_settle));
            span.about += one;
            warm(combination, planned, output, one, Seconds{0.0});
        }
        warm(combination, planned, asked.target, Seconds{0.0}, span.at_most);
        add_load_look(step, frequency, load, asked, combination, planned, span);
        planned.about.level_finding += span.about;
        if (asked.search) {
            const Seconds in_search = look_length(frequency, search_look);
            const Seconds searching =
                static_cast<double>(usual_search_looks) * (step.settle + in_search);
            const Seconds longest =
                static_cast<double>(most_search_looks) *
                    (step.settle + static_cast<double>(most_looks) * in_search) +
                static_cast<double>(most_search_holds) * step.dwell;
            warm(combination, planned, asked.most, searching + step.dwell, longest);
            planned.about.level_finding += searching;
            planned.about.dwell += step.dwell;
            span.about += searching + step.dwell;
            span.at_most += longest;
        }
        return span;
    }

    void add_record(const Step& step, const Combination& combination, const DrivenAs& driven,
                    const Asked& asked, bool playing, const Span& finding, PlannedStep& planned) {
        DrivenAs anything = driven;
        anything.drive_left_volts = anything.drive_right_volts = 1.0;
        const Seconds whole =
            driven_stimulus(anything, plan_.bench.card.rate, plan_.sheet.unit->mains_frequency)
                .whole;
        const bool in_one = whole > Seconds{0.0};
        const Seconds length = in_one ? whole : step.record;
        const Seconds dwell = asked.search || in_one ? Seconds{0.0} : step.dwell;
        const Seconds settle = playing ? Seconds{0.0} : step.settle;
        planned.about.settling += settle;
        planned.about.dwell += dwell;
        planned.about.recording += length;
        ++planned.records;
        const Seconds at_most = settle + dwell + further_settling +
                                static_cast<double>(most_captures) * length + further(step);
        planned.at_most += finding.at_most + at_most;
        warm(combination, planned, asked.highest, settle + dwell + length, at_most);
    }

    /// Heat of `output` V rms into the loads of the channels that are driven.
    void warm(const Combination& combination, PlannedStep& planned, double output, Seconds about,
              Seconds at_most) {
        for (std::size_t c = 0; c < 2; ++c) {
            const auto* load = load_of(plan_.bench, static_cast<int>(c) + 1, combination.load);
            if (load == nullptr || !drives(combination.driven, c) || combination.open ||
                !path_.output.starts_with("speaker")) {
                continue;
            }
            const double watts = output * output / load->resistance.in<Ohms>();
            const PlannedHeat more{watts * about.in<Seconds>(),
                                   watts * std::max(about, at_most).in<Seconds>(), watts};
            planned.heat[c] += more;
            const auto into = std::find_if(run_.loads.begin(), run_.loads.end(),
                                           [&](const PlannedLoad& planned_load) {
                                               return planned_load.channel == side_of(c) &&
                                                      planned_load.resistance == load->resistance;
                                           });
            into->heat += more;
        }
    }

    const RunPlan& plan_;
    PlannedRun run_;
    StepPath path_;
    std::map<std::string, Known> known_;
    std::set<std::string> looked_;        ///< terminals and channel whose load was looked for
    std::map<std::string, double> ways_;  ///< highest output between terminals, V rms
};

}  // namespace

PlannedHeat& PlannedHeat::operator+=(const PlannedHeat& more) {
    about += more.about;
    at_most += more.at_most;
    highest = std::max(highest, more.highest);
    return *this;
}

PlannedRun planned(const RunPlan& plan) {
    return Planner{plan}.whole();
}

}  // namespace afterload::runner
