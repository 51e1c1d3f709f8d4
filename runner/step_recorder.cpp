#include "runner/step_recorder.hpp"

#include "analysis/level.hpp"
#include "analysis/phono_curve.hpp"
#include "runner/evaluation/bench_share.hpp"
#include "runner/evaluation/driven_stimulus.hpp"
#include "runner/evaluation/measured_conditions.hpp"
#include "runner/evaluation/step_path.hpp"
#include "runner/power_search.hpp"
#include "sequences/review.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace afterload::runner {

using instruments::Task;
using sequences::Signal;
using sequences::Step;

namespace {

constexpr Hertz level_frequency{997.0};   // where a level is found when the signal is no tone
constexpr Gain tone_control_boost{12.0};  // more than tone controls usually lift

bool drives(Channels which, std::size_t channel) {
    return which == Channels::both || (which == Channels::left) == (channel == 0);
}

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

/// What hangs on the drive's being the same: one that is found anew would hide the difference.
bool holds_drive(const Step& step) {
    return step.for_each.loads.size() > 1 || step.for_each.volumes.size() > 1 ||
           step.for_each.tone_controls.size() > 1;
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

/// The lift over everything that a record of `driven` plays.
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

std::string key_of_level(Channels driven, const std::optional<sequences::StepLevel>& level,
                         std::optional<Hertz> frequency) {
    std::string key{name(driven)};
    if (level && std::holds_alternative<LevelTarget>(*level)) {
        key += "|" + text(std::get<LevelTarget>(*level));
    }
    if (frequency) {
        key += fmt::format("|{}", frequency->in<Hertz>());
    }
    return key;
}

template <class T, class From>
std::vector<T> or_one(const std::vector<From>& list, T otherwise) {
    return list.empty() ? std::vector<T>{std::move(otherwise)}
                        : std::vector<T>(list.begin(), list.end());
}

}  // namespace

std::vector<StepRecorder::Combination> StepRecorder::combinations(const Step& step) {
    const auto& each = step.for_each;
    std::vector<bool> open;
    for (const auto& load : each.loads) {
        open.push_back(!load.has_value());
    }
    std::vector<Combination> all;
    for (const auto& tone_controls : or_one<std::string>(each.tone_controls, {})) {
        for (const auto& volume : or_one<std::string>(each.volumes, {})) {
            for (const bool without_load : or_one<bool>(open, false)) {
                for (const Channels driven : or_one<Channels>(each.channels, step.driven)) {
                    for (const auto& level :
                         or_one<std::optional<sequences::StepLevel>>(each.levels, step.level)) {
                        for (const auto& frequency :
                             or_one<std::optional<Hertz>>(each.frequencies, step.frequency)) {
                            all.push_back(
                                {driven, level, frequency, without_load, volume, tone_controls});
                        }
                    }
                }
            }
        }
    }
    return all;
}

std::optional<Hertz> StepRecorder::mains_frequency() const {
    return plan_.sheet.unit ? plan_.sheet.unit->mains_frequency : std::nullopt;
}

Task<RunResult<void>> StepRecorder::record(StepAtWork& work) {
    if (*work.step.signal == Signal::silence) {
        const auto recorded = co_await record_silence(work);
        co_return recorded;
    }
    const auto recorded = co_await record_combinations(work);
    co_return recorded;
}

Task<RunResult<void>> StepRecorder::record_silence(StepAtWork& work) {
    const auto muted = co_await driver_.mute();
    if (!muted) {
        co_return muted;
    }
    const Seconds settle = std::max(work.step.settle, Seconds{0.5});
    auto waited = co_await driver_.wait(settle);
    if (!waited) {
        co_return waited;
    }
    const auto most_sensitive =
        std::min_element(plan_.bench.ranges.begin(), plan_.bench.ranges.end(),
                         [](const auto& a, const auto& b) { return a.full_scale < b.full_scale; });
    const auto selected =
        co_await driver_.select_range(work.step.range.value_or(most_sensitive->name));
    if (!selected) {
        co_return selected;
    }
    waited = co_await driver_.wait(settle);
    if (!waited) {
        co_return waited;
    }
    progress_.doing(fmt::format("recording {:.3g} s of silence", work.step.record.in<Seconds>()));
    DrivenAs driven = driven_as(work, {}, {});
    driven.signal = Signal::silence;
    AcquireRequest request = request_for(driven, work.step.record, {});
    const auto taken = co_await take(work, std::move(request));
    co_return taken;
}

Task<RunResult<void>> StepRecorder::record_combinations(StepAtWork& work) {
    const auto reference = response_reference(work.step);
    const bool hold = reference.has_value() || holds_drive(work.step);
    std::map<std::string, LevelReached> held;
    for (const Combination& combination : combinations(work.step)) {
        const auto set_up = co_await set(work, combination);
        if (!set_up) {
            co_return set_up;
        }
        Combination at_reference = combination;
        if (reference && work.step.signal == Signal::tone) {
            at_reference.frequency = reference;
        }
        const std::string key =
            key_of_level(combination.driven, combination.level, at_reference.frequency);
        const auto known = held.find(key);
        LevelReached level;
        if (hold && known != held.end()) {
            level = known->second;
        } else {
            auto found = co_await find_level(work, at_reference);
            if (!found) {
                co_return tl::unexpected(found.error());
            }
            level = *std::move(found);
            for (const std::string& finding : level.findings) {
                document_.notes.push_back(work.step.name + ": " + finding);
            }
            held[key] = level;
        }
        // A tone whose level was just found plays already; beginning it anew would only shake the
        // unit's coupling capacitors.
        const bool playing = known == held.end() && work.step.signal == Signal::tone &&
                             at_reference.frequency == combination.frequency;
        const Prepared made = prepared(work, combination, level);
        if (!playing) {
            const auto begun = co_await begin(work, made);
            if (!begun) {
                co_return begun;
            }
        }
        const auto taken = co_await take_driven(work, made, level);
        if (!taken) {
            co_return taken;
        }
    }
    const auto connected = co_await driver_.connect_load();
    co_return connected;
}

/// Puts load, volume and tone controls where the combination wants them.
Task<RunResult<void>> StepRecorder::set(StepAtWork& work, Combination combination) {
    if (!combination.volume.empty() && combination.volume != work.path.volume) {
        const auto turned =
            co_await turn(work, "Volume at " + combination.volume, "volume", combination.volume);
        if (!turned) {
            co_return turned;
        }
        work.path.volume = combination.volume;
    }
    if (!combination.tone_controls.empty() &&
        combination.tone_controls != work.path.tone_controls) {
        for (const std::string control : {"bass", "treble"}) {
            const bool this_one = combination.tone_controls.starts_with(control);
            const std::string position =
                this_one ? combination.tone_controls.substr(control.size() + 1) : "centre";
            const auto turned = co_await turn(work, "Tone controls: " + control + " at " + position,
                                              control, position);
            if (!turned) {
                co_return turned;
            }
        }
        work.path.tone_controls = combination.tone_controls;
    }
    if (combination.open) {
        const auto released = co_await driver_.release_load();
        co_return released;
    }
    const auto connected = co_await driver_.connect_load();
    co_return connected;
}

/// Asks the person to turn one control; where everything is simulated, turns it.
Task<RunResult<void>> StepRecorder::turn(StepAtWork& work, std::string title, std::string control,
                                         std::string position) {
    const auto muted = co_await driver_.mute();
    if (!muted) {
        co_return muted;
    }
    sequences::Prompt prompt;
    prompt.title = std::move(title);
    prompt.controls = {{control, position}};
    ++set_by_hand_;
    if (person_.ask(prompt, set_by_hand_, 0) == Answer::stop) {
        co_return trouble(Trouble::Kind::person, "stopped at the prompt “" + prompt.title +
                                                     "” of step “" + work.step.name + "”");
    }
    auto* hands = driver_.bench().hands();
    if (hands != nullptr) {
        const auto done = co_await hands->set(std::move(control), std::move(position));
        if (!done) {
            co_return trouble(done.error());
        }
    }
    co_return RunResult<void>{};
}

RunResult<double> StepRecorder::output_of(const LevelTarget& target, Ohms load,
                                          Channels driven) const {
    const auto watts = watts_of(target, plan_.sheet, load, driven);
    if (!watts) {
        return trouble(Trouble::Kind::limit, "the level “" + text(target) +
                                                 "” says no output for this load and channels");
    }
    return voltage_for(*watts, load).in<VoltsRms>();
}

double StepRecorder::limited_thd(const sequences::DistortionLimited& limited, Ohms load,
                                 Channels driven) const {
    if (limited.thd) {
        return *limited.thd;
    }
    const auto rated = sequences::rated_power(plan_.sheet, load, driven);
    // A power rating without its distortion is held to 1 %, the usual convention.
    return rated && rated->thd ? *rated->thd : 0.01;
}

Task<RunResult<LevelReached>> StepRecorder::find_level(StepAtWork& work, Combination combination) {
    const Step& step = work.step;
    const Ohms load = step.load.value_or(sequences::nominal_load(plan_.bench));
    LevelRequest request;
    request.path = key_of(work.path) + (combination.open ? "|open" : "");
    request.frequency = combination.frequency.value_or(level_frequency);
    request.load = load;
    request.settle = step.settle;
    request.mains = mains_frequency();
    const auto* limited = combination.level
                              ? std::get_if<sequences::DistortionLimited>(&*combination.level)
                              : nullptr;
    const LevelTarget target =
        limited != nullptr  ? (is_drive(limited->up_to) ? limited->up_to : LevelTarget{})
        : combination.level ? std::get<LevelTarget>(*combination.level)
                            : LevelTarget{LevelTarget::Kind::output_power, 1.0};
    const LevelTarget most = limited != nullptr ? limited->up_to : target;
    double output = 0.0;
    double at_most = 0.0;
    if (is_drive(target)) {
        output = voltage_for(Watts{0.010}, load).in<VoltsRms>();
        at_most = driver_.largest_output(load, resting_range(plan_.bench).name);
    } else {
        const auto wanted = output_of(target, load, combination.driven);
        const auto highest = output_of(most, load, combination.driven);
        if (!wanted || !highest) {
            co_return tl::unexpected(wanted ? highest.error() : wanted.error());
        }
        output = std::min(*wanted, *highest);
        at_most = *highest;
    }
    const auto* range = step.range ? find_range(plan_.bench, *step.range)
                                   : range_for(plan_.bench, peak_of_sine(VoltsRms{at_most}));
    if (range == nullptr) {
        range = &resting_range(plan_.bench);
    }
    const auto selected = co_await driver_.select_range(range->name);
    if (!selected) {
        co_return tl::unexpected(selected.error());
    }
    for (std::size_t c = 0; c < 2; ++c) {
        request.target[c] = drives(combination.driven, c) ? output : 0.0;
    }
    progress_.doing("finding the level for " + text(target) + " at " +
                    nominal_text(request.frequency));
    if (limited != nullptr) {
        PowerSearchRequest search;
        search.level = request;
        search.thd = limited_thd(*limited, load, combination.driven);
        search.dwell = step.dwell;
        for (std::size_t c = 0; c < 2; ++c) {
            search.at_most[c] = drives(combination.driven, c) ? at_most : 0.0;
        }
        if (is_drive(most)) {
            search.drive_at_most = drive_volts(most);
        }
        auto found = co_await largest_at_distortion(driver_, finder_, search);
        co_return found;
    }
    auto found = co_await finder_.reach(request);
    if (!found || !is_drive(target)) {
        co_return found;
    }
    auto exact = co_await exact_drive(std::move(request), target, *std::move(found));
    co_return exact;
}

double StepRecorder::drive_volts(const LevelTarget& target) const {
    return target.kind == LevelTarget::Kind::drive_volts
               ? target.value
               : voltage_at(DbFs{target.value}, driver_.bench().source().full_scale())
                     .in<VoltsRms>();
}

/// Now that the gain is known the drive is exact, and reached like any other level.
Task<RunResult<LevelReached>> StepRecorder::exact_drive(LevelRequest request, LevelTarget target,
                                                        LevelReached found) {
    const double volts = drive_volts(target);
    for (std::size_t c = 0; c < 2; ++c) {
        if (request.target[c] > 0.0 && found.seen[c]) {
            request.target[c] = volts * found.output[c] / found.drive[c];
        }
    }
    auto reached = co_await finder_.reach(request);
    if (!reached) {
        co_return reached;
    }
    for (std::size_t c = 0; c < 2; ++c) {
        reached->drive[c] = request.target[c] > 0.0 ? volts : 0.0;
        reached->output[c] = request.target[c];
    }
    co_return reached;
}

DrivenAs StepRecorder::driven_as(const StepAtWork& work, const Combination& combination,
                                 const LevelReached& level) const {
    DrivenAs driven;
    const Step& step = work.step;
    driven.signal = step.signal.value_or(Signal::silence);
    driven.nominal = combination.frequency.value_or(level_frequency);
    driven.drive_left_volts = level.drive[0];
    driven.drive_right_volts = level.drive[1];
    if (combination.level) {
        if (const auto* target = std::get_if<LevelTarget>(&*combination.level)) {
            driven.target = *target;
        } else {
            driven.distortion_limit = limited_thd(
                std::get<sequences::DistortionLimited>(*combination.level),
                step.load.value_or(sequences::nominal_load(plan_.bench)), combination.driven);
            driven.distortion_slope = level.distortion_slope;
        }
    }
    driven.range = driver_.bench().range_switch().selected();
    driven.mains_voltage = work.slow.mains_volts;
    driven.ambient = work.slow.ambient;
    driven.heat_sink = work.slow.heat_sink;
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
    driven.volume = combination.volume;
    driven.tone_controls = combination.tone_controls;
    return driven;
}

AcquireRequest StepRecorder::request_for(const DrivenAs& driven, Seconds length,
                                         const LevelReached& level) const {
    AcquireRequest request;
    request.length = length;
    if (driven.signal == Signal::tone) {
        request.tone = driven.nominal;
    }
    for (std::size_t c = 0; c < 2; ++c) {
        request.seen[c] = level.seen[c] && level.drive[c] > 0.0;
    }
    request.driven = driven;
    return request;
}

StepRecorder::Prepared StepRecorder::prepared(const StepAtWork& work,
                                              const Combination& combination,
                                              const LevelReached& level) const {
    Prepared made;
    made.driven = driven_as(work, combination, level);
    DrivenStimulus stimulus =
        driven_stimulus(made.driven, plan_.bench.card.rate, mains_frequency());
    made.drive = {std::move(stimulus.stimulus), level.drive};
    made.whole = stimulus.whole;
    const double lift = largest_lift(work.path, made.driven);
    made.expected = {lift * level.output[0], lift * level.output[1]};
    return made;
}

/// Plays at a level that is known, and lets it settle. What stands before and after a sweep is
/// silence, and is needed as such.
Task<RunResult<void>> StepRecorder::begin(StepAtWork& work, const Prepared& made) {
    if (made.whole > Seconds{0.0}) {
        const auto muted = co_await driver_.mute();
        if (!muted) {
            co_return muted;
        }
    } else {
        const auto played = co_await driver_.play(made.drive, made.expected);
        if (!played) {
            co_return played;
        }
    }
    const auto settled = co_await driver_.wait(work.step.settle);
    co_return settled;
}

Task<RunResult<void>> StepRecorder::take_driven(StepAtWork& work, const Prepared& made,
                                                const LevelReached& level) {
    const Step& step = work.step;
    const DrivenAs& driven = made.driven;
    const bool whole = made.whole > Seconds{0.0};
    if (step.dwell > Seconds{0.0} && !driven.distortion_limit && !whole) {
        progress_.doing(fmt::format("holding the level for {:.3g} s", step.dwell.in<Seconds>()));
        const auto waited = co_await driver_.wait(step.dwell);
        if (!waited) {
            co_return waited;
        }
    }
    const Seconds length = whole ? made.whole : step.record;
    progress_.doing(fmt::format("recording {:.3g} s{}", length.in<Seconds>(),
                                driven.signal == Signal::tone
                                    ? " at " + nominal_text(driven.nominal)
                                    : " of " + sequences::in_words(driven.signal)));
    AcquireRequest request = request_for(driven, length, level);
    if (whole) {
        request.stimulus = made.drive;
        request.expected = made.expected;
    }
    const auto taken = co_await take(work, std::move(request));
    co_return taken;
}

Task<RunResult<void>> StepRecorder::record_again(StepAtWork& work, std::size_t index,
                                                 Seconds length) {
    const DrivenAs driven = work.records[index].stored.driven;
    LevelReached level;
    level.drive = {driven.drive_left_volts, driven.drive_right_volts};
    ExpectedOutput expected{};
    for (std::size_t c = 0; c < 2; ++c) {
        level.seen[c] = level.drive[c] > 0.0;
        expected[c] = largest_lift(work.path, driven) * level.drive[c] *
                      finder_.known_gain(key_of(work.path), c, driven.nominal);
    }
    const auto selected = co_await driver_.select_range(driven.range);
    if (!selected) {
        co_return selected;
    }
    if (driven.silent()) {
        const auto muted = co_await driver_.mute();
        if (!muted) {
            co_return muted;
        }
    } else {
        DrivenStimulus made = driven_stimulus(driven, plan_.bench.card.rate, mains_frequency());
        StimulusDrive drive{std::move(made.stimulus), level.drive};
        const auto played = co_await driver_.play(std::move(drive), expected);
        if (!played) {
            co_return played;
        }
    }
    const auto waited = co_await driver_.wait(work.step.settle + driven.dwell);
    if (!waited) {
        co_return waited;
    }
    progress_.doing(fmt::format("one further record, {:.3g} s", length.in<Seconds>()));
    AcquireRequest request = request_for(driven, length, level);
    const auto taken = co_await take(work, std::move(request));
    if (!taken) {
        co_return taken;
    }
    const std::string before = work.records[index].stored.path;
    work.result.records.back().supersedes = before;
    work.records.back().stored.supersedes = before;
    work.records[index] = std::move(work.records.back());
    work.records.pop_back();
    co_return taken;
}

Task<RunResult<void>> StepRecorder::take(StepAtWork& work, AcquireRequest request) {
    request.stem = fmt::format("{:03}-{}", document_.steps.size(), work.result.records.size() + 1);
    request.mains = mains_frequency();
    auto acquired = co_await acquire(driver_, folder_, std::move(request));
    if (!acquired) {
        co_return tl::unexpected(acquired.error());
    }
    acquired->measured.stored.driven.since_start -= began_;
    for (Retake& retake : acquired->retakes) {
        retake.since_start -= began_;
        work.result.retakes.push_back(std::move(retake));
    }
    for (RunEvent& event : acquired->events) {
        event.since_start -= began_;
        work.result.events.push_back(std::move(event));
    }
    work.result.records.push_back(acquired->measured.stored);
    work.records.push_back(std::move(acquired->measured));
    co_return RunResult<void>{};
}

}  // namespace afterload::runner
