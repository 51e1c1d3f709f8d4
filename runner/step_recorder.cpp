#include "runner/step_recorder.hpp"

#include "analysis/level.hpp"
#include "runner/evaluation/bench_share.hpp"
#include "runner/evaluation/driven_stimulus.hpp"
#include "runner/evaluation/measured_conditions.hpp"
#include "runner/evaluation/step_path.hpp"
#include "runner/power_search.hpp"
#include "runner/step_levels.hpp"
#include "sequences/review.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace afterload::runner {

using instruments::Task;
using sequences::Combination;
using sequences::Signal;
using sequences::Step;

namespace {

/// Adds the bench's time from here to the end of the scope to one part of a step's.
class TimeSpent {
public:
    TimeSpent(instruments::Clock& clock, Seconds& part)
        : clock_{clock}, part_{part}, from_{clock.now()} {}
    ~TimeSpent() { part_ += clock_.now() - from_; }
    TimeSpent(const TimeSpent&) = delete;
    TimeSpent& operator=(const TimeSpent&) = delete;
    TimeSpent(TimeSpent&&) = delete;
    TimeSpent& operator=(TimeSpent&&) = delete;

private:
    instruments::Clock& clock_;
    Seconds& part_;
    Seconds from_;
};

}  // namespace

Task<RunResult<void>> StepRecorder::record(StepAtWork& work) {
    if (*work.step.signal == Signal::silence) {
        const auto recorded = co_await record_silence(work);
        co_return recorded;
    }
    const auto recorded = co_await record_combinations(work);
    co_return recorded;
}

Task<RunResult<void>> StepRecorder::record_silence(StepAtWork& work) {
    const auto quiet = co_await fall_silent(work);
    if (!quiet) {
        co_return quiet;
    }
    progress_.doing(fmt::format("recording {:.3g} s of silence", work.step.record.in<Seconds>()));
    DrivenAs driven = driven_as(work, {}, {});
    driven.signal = Signal::silence;
    AcquireRequest request = request_for(driven, work.step.record, {});
    const auto taken = co_await take(work, std::move(request));
    co_return taken;
}

/// Mutes, and goes to the range that resolves least when nothing can harm it any more.
Task<RunResult<void>> StepRecorder::fall_silent(StepAtWork& work) {
    const TimeSpent spent{driver_.bench().clock(), work.result.bench_time.settling};
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
    co_return waited;
}

Task<RunResult<void>> StepRecorder::record_combinations(StepAtWork& work) {
    const bool hold = holds_drive(work.step);
    std::map<std::string, LevelReached> held;
    for (const Combination& combination : combinations(work.step)) {
        const auto set_up = co_await set(work, combination);
        if (!set_up) {
            co_return set_up;
        }
        const Combination at_reference = where_level_is_found(work.step, combination);
        const std::string key = key_of_level(at_reference);
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
            const auto looked = co_await look_at_loads(work, at_reference, level);
            if (!looked) {
                co_return looked;
            }
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
    const auto connected =
        co_await driver_.connect_load(sequences::load_on(plan_.bench, work.step.load));
    co_return connected;
}

Task<RunResult<void>> StepRecorder::look_at_loads(StepAtWork& work, Combination combination,
                                                  LevelReached level) {
    const std::string terminals =
        terminals_of(work.path) + key_of_load(plan_.bench, combination.open, combination.load);
    const Ohms load = sequences::load_on(plan_.bench, combination.load);
    if (combination.open || !may_be_driven_open(plan_.sheet) ||
        !work.path.output.starts_with("speaker") || !load_look_.due(terminals, level, load)) {
        co_return RunResult<void>{};
    }
    const TimeSpent spent{driver_.bench().clock(), work.result.bench_time.level_finding};
    progress_.doing("letting go of the loads: is the level missing them?");
    const Hertz frequency = combination.frequency.value_or(level_frequency);
    const auto looked = co_await load_look_.look(terminals, load, level, frequency,
                                                 mains_frequency(plan_.sheet), work.step.settle);
    co_return looked;
}

/// Puts load, volume and tone controls where the combination wants them.
Task<RunResult<void>> StepRecorder::set(StepAtWork& work, Combination combination) {
    for (const Turn& wanted : turns_to(combination, work.path)) {
        const auto turned = co_await turn(work, wanted);
        if (!turned) {
            co_return turned;
        }
    }
    if (!combination.volume.empty()) {
        work.path.volume = combination.volume;
    }
    if (!combination.tone_controls.empty()) {
        work.path.tone_controls = combination.tone_controls;
    }
    if (combination.open) {
        const auto released = co_await driver_.release_load();
        co_return released;
    }
    const auto connected =
        co_await driver_.connect_load(sequences::load_on(plan_.bench, combination.load));
    co_return connected;
}

/// Asks the person to turn one control; where everything is simulated, turns it.
Task<RunResult<void>> StepRecorder::turn(StepAtWork& work, Turn turn) {
    const auto muted = co_await driver_.mute();
    if (!muted) {
        co_return muted;
    }
    sequences::Prompt prompt;
    prompt.title = turn.title;
    prompt.controls = {{turn.control, turn.position}};
    ++set_by_hand_;
    if (person_.ask(prompt, set_by_hand_, 0) == Answer::stop) {
        co_return trouble(Trouble::Kind::person, "stopped at the prompt “" + prompt.title +
                                                     "” of step “" + work.step.name + "”");
    }
    auto* hands = driver_.bench().hands();
    if (hands != nullptr) {
        const auto done = co_await hands->set(turn.control, turn.position);
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
    const TimeSpent spent{driver_.bench().clock(), work.result.bench_time.level_finding};
    const Step& step = work.step;
    const Ohms load = sequences::load_on(plan_.bench, combination.load);
    LevelRequest request;
    const std::string into = key_of_load(plan_.bench, combination.open, combination.load);
    request.path = key_of(work.path) + into;
    request.terminals = terminals_of(work.path) + into;
    request.frequency = combination.frequency.value_or(level_frequency);
    request.load = load;
    request.settle = step.settle;
    request.mains = mains_frequency(plan_.sheet);
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
    const auto* range =
        step.range ? find_range(plan_.bench, *step.range)
                   : range_for(plan_.bench, peak_of_sine(VoltsRms{highest_of(work, at_most)}));
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
        if (found) {
            work.result.bench_time.dwell += found->held;
            work.result.bench_time.level_finding -= found->held;
        }
        co_return found;
    }
    auto found = co_await finder_.reach(request);
    if (!found || !is_drive(target)) {
        co_return found;
    }
    auto exact = co_await exact_drive(std::move(request), target, *std::move(found));
    co_return exact;
}

/// V rms that the step's records reach when their level was found at `found`.
double StepRecorder::highest_of(const StepAtWork& work, double found) {
    double lift = 1.0;
    for (const Combination& combination : sequences::combinations(work.step)) {
        lift = std::max(lift, largest_lift(work.path, played_by(work.step, combination)));
    }
    return lift * found;
}

double StepRecorder::drive_volts(const LevelTarget& target) const {
    return target.kind == LevelTarget::Kind::drive_volts
               ? target.value
               : voltage_at(DbFs{target.value}, driver_.full_scale()).in<VoltsRms>();
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
    DrivenAs driven = played_by(work.step, combination);
    driven.drive_left_volts = level.drive[0];
    driven.drive_right_volts = level.drive[1];
    driven.short_of_level = level.short_of_level;
    if (combination.level) {
        if (const auto* target = std::get_if<LevelTarget>(&*combination.level)) {
            driven.target = *target;
        } else {
            driven.distortion_limit =
                limited_thd(std::get<sequences::DistortionLimited>(*combination.level),
                            sequences::load_on(plan_.bench, combination.load), combination.driven);
            driven.distortion_slope = level.distortion_slope;
        }
    }
    driven.range = driver_.bench().range_switch().selected();
    driven.from_generator = driver_.from_generator();
    driven.mains_voltage = work.slow.mains_volts;
    driven.ambient = work.slow.ambient;
    driven.heat_sink = work.slow.heat_sink;
    return driven;
}

AcquireRequest StepRecorder::request_for(const DrivenAs& driven, Seconds length,
                                         const LevelReached& level) const {
    AcquireRequest request;
    request.length = length;
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
        driven_stimulus(made.driven, plan_.bench.card.rate, mains_frequency(plan_.sheet));
    made.drive = {std::move(stimulus.stimulus), level.drive};
    made.whole = stimulus.whole;
    const double lift = largest_lift(work.path, made.driven);
    made.expected = {lift * level.output[0], lift * level.output[1]};
    return made;
}

/// Plays at a level that is known, and lets it settle. What stands before and after a sweep is
/// silence, and is needed as such.
Task<RunResult<void>> StepRecorder::begin(StepAtWork& work, const Prepared& made) {
    const TimeSpent spent{driver_.bench().clock(), work.result.bench_time.settling};
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
        const TimeSpent spent{driver_.bench().clock(), work.result.bench_time.dwell};
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

Task<RunResult<void>> StepRecorder::record_again(StepAtWork& work, FurtherRecord further) {
    const std::size_t index = further.record;
    const Seconds length = further.length;
    const DrivenAs driven = work.records[index].stored.driven;
    LevelReached level;
    level.drive = {driven.drive_left_volts, driven.drive_right_volts};
    ExpectedOutput expected{};
    const std::string path = key_of(work.path) + key_of_load(plan_.bench, driven.open, driven.load);
    for (std::size_t c = 0; c < 2; ++c) {
        level.seen[c] = level.drive[c] > 0.0;
        expected[c] = largest_lift(work.path, driven) * level.drive[c] *
                      finder_.known_gain(path, c, driven.nominal);
    }
    const auto resumed = co_await resume(work, driven, level, expected);
    if (!resumed) {
        co_return resumed;
    }
    progress_.doing(fmt::format("one further record, {:.3g} s", length.in<Seconds>()));
    AcquireRequest request = request_for(driven, length, level);
    const auto taken = co_await take(work, std::move(request));
    if (!taken) {
        co_return taken;
    }
    const std::string before = work.records[index].stored.path;
    for (StoredRecord* stored : {&work.result.records.back(), &work.records.back().stored}) {
        stored->supersedes = before;
        stored->asked_by = further.asked_by;
    }
    work.records[index] = std::move(work.records.back());
    work.records.pop_back();
    co_return taken;
}

/// Plays again what a record was made of, and waits as long as before it.
Task<RunResult<void>> StepRecorder::resume(StepAtWork& work, const DrivenAs& driven,
                                           const LevelReached& level, ExpectedOutput expected) {
    const TimeSpent spent{driver_.bench().clock(), work.result.bench_time.settling};
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
        DrivenStimulus made =
            driven_stimulus(driven, plan_.bench.card.rate, mains_frequency(plan_.sheet));
        StimulusDrive drive{std::move(made.stimulus), level.drive};
        const auto played = co_await driver_.play(std::move(drive), expected);
        if (!played) {
            co_return played;
        }
    }
    const auto waited = co_await driver_.wait(work.step.settle + driven.dwell);
    co_return waited;
}

Task<RunResult<void>> StepRecorder::take(StepAtWork& work, AcquireRequest request) {
    request.stem = fmt::format("{:03}-{}", document_.steps.size(), work.result.records.size() + 1);
    request.mains = mains_frequency(plan_.sheet);
    const Seconds length = request.length;
    const Seconds from = now();
    auto acquired = co_await acquire(driver_, folder_, std::move(request));
    if (!acquired) {
        co_return tl::unexpected(acquired.error());
    }
    work.result.bench_time.recording += length;
    work.result.bench_time.retakes += std::max(Seconds{0.0}, now() - from - length);
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
