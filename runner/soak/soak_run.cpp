#include "runner/soak/soak_run.hpp"

#include "analysis/level.hpp"
#include "runner/evaluation/bench_share.hpp"
#include "runner/evaluation/measured_conditions.hpp"
#include "runner/level_finder.hpp"
#include "runner/soak/soak_keeper.hpp"
#include "runner/soak/soak_observer.hpp"
#include "runner/soak/soak_schedule.hpp"
#include "runner/soak/soak_stream.hpp"
#include "runner/step_levels.hpp"
#include "runner/wall_clock.hpp"
#include "sequences/review.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace afterload::runner {

using instruments::Task;
using What = SoakPlayer::What;

namespace {

constexpr Seconds look_every{1.0};
constexpr Seconds minute{60.0};
constexpr Seconds off_within{0.5};
constexpr double still_there = 0.03;   // of the driven level: above it a mute has not worked
constexpr double moves_at_most = 0.1;  // dB up or down in one regulation
constexpr double moves_from = 0.02;    // dB: less is left alone
constexpr double moved_in_all = 1.0;   // dB: what asks for more is no matter of regulation
constexpr double steady_rise = 0.15;   // K/min
constexpr Seconds most_apart{0.3};

double rms_target(const SoakAtWork& work, Ohms load) {
    const auto watts = watts_of(work.step.soak->level, work.plan.sheet, load, work.step.driven);
    return watts ? voltage_for(*watts, load).in<VoltsRms>() : 0.0;
}

bool drives(Channels which, std::size_t channel) {
    return which == Channels::both || (which == Channels::left) == (channel == 0);
}

class SoakRun {
public:
    explicit SoakRun(SoakAtWork work)
        : work_{std::move(work)},
          soak_{*work_.step.soak},
          bench_{work_.driver.bench()},
          base_{result().soak ? result().soak->lasted : Seconds{0.0}},
          clock_base_{bench_.clock().now()},
          keeper_{work_, base_},
          sensors_{bench_, work_.plan.bench, soak_},
          stream_{bench_, work_.plan.bench, mains()},
          player_{work_.driver, soak_.frequency, work_.plan.bench.card.rate, loop_of(work_)},
          finder_{work_.driver},
          schedule_{soak_},
          observer_{soak_, sensors_.watched(), nominal_mains(), keeper_.events(), keeper_.trends()},
          load_{work_.step.load.value_or(sequences::nominal_load(work_.plan.bench))},
          target_{rms_target(work_, load_)} {
        schedule_.go_on_from(base_);
    }

    Task<RunResult<void>> carry_out() {
        auto ended = keeper_.begin(sensors_.missing());
        if (ended) {
            ended = co_await first_looks();
        }
        if (ended) {
            ended = co_await until_over();
        }
        const auto finished = co_await finish(ended);
        if (!ended) {
            co_return ended;
        }
        co_return finished;
    }

private:
    struct GainSum {
        double sum = 0.0;
        double count = 0.0;
    };
    [[nodiscard]] StepResult& result() { return work_.document.steps[work_.result]; }
    [[nodiscard]] Seconds now() const { return base_ + bench_.clock().now() - clock_base_; }
    [[nodiscard]] std::optional<Hertz> mains() const {
        return work_.plan.sheet.unit ? work_.plan.sheet.unit->mains_frequency : std::nullopt;
    }
    [[nodiscard]] std::optional<double> nominal_mains() const {
        return work_.plan.sheet.unit ? work_.plan.sheet.unit->mains_voltage : std::nullopt;
    }
    [[nodiscard]] static SoakLoop loop_of(const SoakAtWork& work) {
        switch (work.step.soak->signal) {
            case sequences::SoakSignal::sine:
                return {};
            case sequences::SoakSignal::pink_noise:
                return pink_soak_loop(work.plan.bench.card.rate);
            case sequences::SoakSignal::file:
                return work.loop;
        }
        return {};
    }
    [[nodiscard]] bool held() {
        return observer_.reactions().state() != analysis::Reactions::State::driving;
    }
    [[nodiscard]] SoakDriving driving() const {
        SoakDriving driving;
        driving.driving = player_.what() != What::nothing;
        driving.driven_for = driving.driving ? now() - driven_since_ : Seconds{0.0};
        driving.output_watts = driving.driving ? expected_watts_ : 0.0;
        driving.learning = stream_.learning();
        driving.steady = player_.what() == What::sine;
        return driving;
    }

    Task<RunResult<void>> first_looks() {
        const SlowLook look = co_await sensors_.look();
        observer_.looked(look, now(), driving());
        if (base_ > Seconds{0.0}) {
            co_return RunResult<void>{};
        }
        for (const std::size_t set : schedule_.at_start()) {
            const auto measured = co_await remeasure(set, "start");
            if (!measured) {
                co_return measured;
            }
        }
        co_return RunResult<void>{};
    }

    Task<RunResult<void>> until_over() {
        while (!over()) {
            if (const auto on = work_.driver.going_on(); !on) {
                co_return on;
            }
            if (!held()) {
                const auto turned = co_await follow_schedule();
                if (!turned) {
                    co_return turned;
                }
            }
            const auto heard = co_await listen();
            if (!heard) {
                co_return heard;
            }
            const auto acted = co_await act();
            if (!acted) {
                co_return acted;
            }
        }
        co_return RunResult<void>{};
    }

    /// Over: silence is known to have come, or not to, and what an event wants kept of what came
    /// after it has come.
    [[nodiscard]] bool over() const {
        return over_at_ && !off_asked_ &&
               (finished_ || now() - *over_at_ > kept_around || !stream_.open());
    }

    // --- what plays ---------------------------------------------------------------------------

    Task<RunResult<void>> follow_schedule() {
        if (now() >= soak_.duration) {
            finished_ = true;
            observer_.observe(now(), analysis::TimeIsUp{});
            co_return RunResult<void>{};
        }
        const auto rise = observer_.sink_rise();
        const bool steady = rise && *rise < steady_rise;
        for (const std::size_t set : schedule_.remeasure_due(now(), steady)) {
            const auto measured = co_await remeasure(set, time_words(now()));
            if (!measured) {
                co_return measured;
            }
        }
        const What due = schedule_.due(now());
        if (due == player_.what() && (stream_.open() || lost_)) {
            co_return RunResult<void>{};
        }
        RunResult<void> turned;
        if (due == What::nothing) {
            turned = co_await fall_silent();
        } else if (player_.what() == What::nothing) {
            turned = co_await begin_drive(due);
        } else {
            turned = co_await player_.play(due, drive_, output_);
            if (turned) {
                stream_.relearn(player_.watched());
            }
        }
        co_return turned;
    }

    Task<RunResult<void>> fall_silent() {
        const auto muted = co_await player_.mute();
        if (!muted) {
            co_return muted;
        }
        stream_.relearn(player_.watched());
        const auto listening = co_await open_stream();
        if (!listening) {
            co_return listening;
        }
        const auto volts = co_await sensors_.quiescent();
        observer_.quiescent(volts, now(), driven_in_all_);
        co_return RunResult<void>{};
    }

    /// Rises to the level from below, as everything that drives does, and begins to watch.
    Task<RunResult<void>> begin_drive(What what) {
        close_stream();
        work_.progress.doing("finding the level of the soak");
        const auto connected = co_await work_.driver.connect_load();
        if (!connected) {
            co_return connected;
        }
        const double crest = player_.crest(what);
        const auto* range = range_for(work_.plan.bench, peak_of_sine(VoltsRms{crest * target_}));
        const auto selected = co_await work_.driver.select_range(
            (range != nullptr ? *range : resting_range(work_.plan.bench)).name);
        if (!selected) {
            co_return selected;
        }
        LevelRequest request;
        request.path = work_.path;
        request.terminals = work_.terminals;
        request.frequency = what == What::sine ? soak_.frequency : level_frequency;
        request.load = load_;
        request.mains = mains();
        for (std::size_t c = 0; c < 2; ++c) {
            request.target[c] = drives(work_.step.driven, c) ? target_ : 0.0;
        }
        auto reached = co_await finder_.reach(std::move(request));
        if (!reached) {
            co_return tl::unexpected(reached.error());
        }
        for (const std::string& finding : reached->findings) {
            keeper_.note(finding);
        }
        drive_ = reached->drive;
        found_drive_ = drive_;
        output_ = reached->output;
        expected_watts_ = 0.0;
        for (const double volts : output_) {
            expected_watts_ += dissipated(VoltsRms{volts}, load_).in<Watts>();
        }
        const auto playing = co_await player_.play(what, drive_, output_);
        if (!playing) {
            co_return playing;
        }
        driven_since_ = now();
        regulated_ = now();
        gains_ = {};
        observer_.drive_begins();
        stream_.relearn(player_.watched());
        const auto listening = co_await open_stream();
        co_return listening;
    }

    Task<RunResult<void>> regulate() {
        if (soak_.regulate <= Seconds{0.0} || now() - regulated_ < soak_.regulate ||
            player_.what() == What::nothing || stream_.learning()) {
            co_return RunResult<void>{};
        }
        // By the gain: the level of noise and music moves by itself.
        std::array<double, 2> level{};
        double highest = 0.0;
        for (std::size_t c = 0; c < 2; ++c) {
            level[c] = gains_[c].count > 0.0 ? drive_[c] * gains_[c].sum / gains_[c].count : 0.0;
            highest = std::max(highest, level[c]);
        }
        regulated_ = now();
        gains_ = {};
        if (!(highest > 0.1 * target_)) {
            co_return RunResult<void>{};  // what is gone is not brought back by more drive
        }
        // The target is never passed: what is driven aims half a hundredth of a decibel below it.
        const double off = gain_of(AmplitudeRatio{highest / target_}).decibels() + 0.005;
        if (std::abs(off) < moves_from) {
            co_return RunResult<void>{};
        }
        const Gain change{std::clamp(-off, -moves_at_most, moves_at_most)};
        const double factor = amplitude_ratio(change).in<AmplitudeRatio>();
        std::array<double, 2> drive = drive_;
        std::array<double, 2> output = level;
        double in_all = 0.0;
        for (std::size_t c = 0; c < 2; ++c) {
            drive[c] *= factor;
            output[c] *= factor;
            if (found_drive_[c] > 0.0) {
                in_all = std::max(
                    in_all,
                    std::abs(gain_of(AmplitudeRatio{drive[c] / found_drive_[c]}).decibels()));
            }
        }
        if (in_all > moved_in_all) {
            keeper_.regulated({now(), 0.0, drive_[0], drive_[1],
                               "left alone: it would be moved by more than 1 dB in all"});
            co_return RunResult<void>{};
        }
        const auto played = co_await player_.play(player_.what(), drive, output);
        if (!played && played.error().kind == Trouble::Kind::limit) {
            keeper_.regulated({now(), 0.0, drive_[0], drive_[1], played.error().what});
            co_return RunResult<void>{};
        }
        if (!played) {
            co_return played;
        }
        drive_ = drive;
        output_ = output;
        stream_.drive_changed(change);
        keeper_.regulated(
            {now(), change.decibels(), drive_[0], drive_[1],
             fmt::format("the louder channel stood {:+.3f} dB from its target", off)});
        co_return RunResult<void>{};
    }

    // --- what is measured again ---------------------------------------------------------------

    Task<RunResult<void>> remeasure(std::size_t set, std::string when) {
        close_stream();
        const bool was_driving = player_.what() != What::nothing;
        const auto muted = co_await player_.mute();
        if (!muted) {
            co_return muted;
        }
        if (was_driving) {
            driven_in_all_ += now() - driven_since_;
        }
        for (const sequences::Step& step : soak_.remeasure[set].steps) {
            auto measured = co_await work_.measure(step, when);
            if (!measured) {
                co_return measured;
            }
            const SlowLook look = co_await sensors_.look();
            observer_.looked(look, now(), driving());
        }
        const auto quiet = co_await player_.mute();
        co_return quiet;
    }

    // --- what is heard ------------------------------------------------------------------------

    Task<RunResult<void>> open_stream() {
        if (stream_.open()) {
            co_return RunResult<void>{};
        }
        const auto opened = co_await stream_.begin(now(), player_.watched());
        if (!opened) {
            observer_.news(
                {analysis::BenchNews::Kind::capture_lost, instruments::text(opened.error())},
                now());
            lost_ = true;
            co_return RunResult<void>{};
        }
        lost_ = false;
        keeper_.stream_begins(stream_);
        co_return RunResult<void>{};
    }

    void close_stream() {
        if (stream_.open()) {
            stream_.end(now());
            keeper_.stream_ends();
        }
    }

    Task<RunResult<void>> listen() {
        if (!stream_.open()) {
            const Seconds piece{0.1};
            co_await bench_.clock().sleep(piece);
        } else {
            const auto came = co_await stream_.next(player_, now());
            if (!came) {
                stream_.end(now());
                keeper_.stream_ends();
                lost_ = true;
                observer_.news(
                    {analysis::BenchNews::Kind::capture_lost, instruments::text(came.error())},
                    now());
            } else {
                take_in();
            }
        }
        check_off();
        stay_together();
        if (now() - looked_ >= look_every) {
            looked_ = now();
            const SlowLook look = co_await sensors_.look();
            if (look.mains_volts) {
                mains_log_.add(now(), *look.mains_volts);
            }
            observer_.looked(look, now(), driving());
            keeper_.events().look_at_mains(mains_log_, now(), observer_.unit_removed());
            const auto regulated = co_await regulate();
            if (!regulated) {
                co_return regulated;
            }
        }
        if (now() - minute_ >= minute) {
            minute_ = now();
            const auto kept = keeper_.minute_over(now());
            tell_progress();
            if (!kept) {
                co_return kept;
            }
        }
        co_return RunResult<void>{};
    }

    void take_in() {
        keeper_.add_block(stream_);
        for (analysis::SoakEvent& event : stream_.take_events()) {
            const Seconds at = stream_.soak_time(event.seen.start);
            const int fresh = observer_.told(event, at, driving());
            keeper_.told(event, fresh, at);
        }
        for (const analysis::SoakReading& reading : stream_.take_readings()) {
            const Seconds at = stream_.soak_time(reading.start);
            observer_.read(reading, at);
            if (!reading.learning && reading.kind != analysis::WatchedStimulus::Kind::silence) {
                for (std::size_t c = 0; c < reading.channels.size() && c < 2; ++c) {
                    if (const auto& gain = reading.channels[c].gain) {
                        gains_[c].sum += amplitude_ratio(*gain).in<AmplitudeRatio>();
                        gains_[c].count += 1.0;
                    }
                }
            }
        }
    }

    /// A source on a clock of its own runs away from the record, by a second in a day or two.
    void stay_together() {
        const auto latency = stream_.latency();
        const auto most = frames_in(most_apart, stream_.rate());
        if (!latency || std::abs(latency->count()) < most.count()) {
            return;
        }
        player_.stand_back(*latency);
        stream_.relearn(player_.watched());
        keeper_.note(fmt::format(
            "at {} the clocks of source and card had run {:.2f} s apart: the "
            "watch learnt its reference anew",
            time_words(now()), std::abs(duration(*latency, stream_.rate()).in<Seconds>())));
    }

    /// A mute is believed when nothing comes out any more.
    void check_off() {
        if (!off_asked_) {
            return;
        }
        const bool quiet = !stream_.open() || stream_.loudest() < still_there * target_;
        if (quiet && now() > *off_asked_) {
            keeper_.done(off_decision_, now() - *off_asked_, "nothing comes out any more");
            off_asked_.reset();
            observer_.observe(now(), analysis::DriveIsOff{});
        } else if (now() - *off_asked_ > off_within) {
            off_asked_.reset();
            observer_.news({analysis::BenchNews::Kind::drive_not_off,
                            "the output goes on although the source was told to be silent"},
                           now());
        }
    }

    void tell_progress() {
        const auto sink = observer_.hottest_sink();
        work_.progress.doing(
            fmt::format("{} of {}{}, {} events", time_words(now()), time_words(soak_.duration),
                        sink ? fmt::format(", heat sink {:.1f} °C", sink->in<Celsius>()) : "",
                        keeper_.events().count()));
    }

    // --- what is done -------------------------------------------------------------------------

    Task<RunResult<void>> act() {
        for (auto pending = observer_.take(); !pending.empty(); pending = observer_.take()) {
            for (const SoakPending& one : pending) {
                const int place = keeper_.decided(one, now());
                const auto done = co_await carry_out_one(one, place);
                if (!done) {
                    co_return done;
                }
            }
            const auto kept = keeper_.keep();
            if (!kept) {
                co_return kept;
            }
        }
        co_return RunResult<void>{};
    }

    Task<RunResult<void>> carry_out_one(const SoakPending& pending, int place) {
        using Kind = analysis::Decision::Kind;
        switch (pending.decision.kind) {
            case Kind::drive_off:
                co_await drive_off(place);
                break;
            case Kind::mains_off:
                why_ = why_.empty() ? pending.decision.because : why_;
                co_await mains_off(place);
                break;
            case Kind::check_rig:
                co_await check_rig(place);
                break;
            case Kind::resume:
                co_return RunResult<void>{};  // the schedule drives again, from below
            case Kind::end:
                if (!over_at_) {
                    over_at_ = now();
                    why_ = pending.decision.because;
                }
                break;
            case Kind::note:
            case Kind::flag:
            case Kind::allow_restart:
                break;
        }
        co_return RunResult<void>{};
    }

    Task<void> drive_off(int place) {
        if (player_.what() != What::nothing) {
            driven_in_all_ += now() - driven_since_;
        }
        const auto muted = co_await player_.mute();
        if (!muted) {
            keeper_.done(place, Seconds{0.0}, muted.error().what);
            observer_.news({analysis::BenchNews::Kind::drive_not_off, muted.error().what}, now());
            co_return;
        }
        stream_.relearn(player_.watched());
        off_asked_ = now();
        off_decision_ = place;
    }

    Task<void> mains_off(int place) {
        const Seconds from = now();
        const auto muted = co_await player_.mute();
        result().soak->killed = true;
        over_at_ = over_at_ ? over_at_ : from;
        instruments::MainsSwitch* const contactor = bench_.mains_switch();
        std::string done = muted ? "the drive is muted" : "the source did not answer";
        if (contactor == nullptr) {
            done += "; this bench has no contactor that the program opens: its cut-out is left";
        } else if (const auto opened = co_await contactor->open(); !opened) {
            done += "; " + instruments::text(opened.error());
        } else {
            done += "; the mains contactor is open";
        }
        stream_.relearn(player_.watched());
        keeper_.done(place, now() - from, done);
    }

    /// The part of the rig check that needs no hands: the card still records, nothing is driven,
    /// and what comes in without a drive is noise and not one and the same sample.
    Task<void> check_rig(int place) {
        const Seconds from = now();
        close_stream();
        auto heard = co_await bench_.capture().record(Seconds{1.0});
        analysis::RigChecked checked;
        if (!heard) {
            checked.what = instruments::text(heard.error());
        } else {
            checked = looked_over(*heard);
        }
        keeper_.done(place, now() - from, checked.what);
        if (checked.passed) {
            keeper_.events().rig_checked(true, now());
            co_await reopen();
        }
        observer_.observe(now(), std::move(checked));
    }

    Task<void> reopen() {
        const auto listening = co_await open_stream();
        if (!listening) {
            lost_ = true;
        }
    }

    [[nodiscard]] analysis::RigChecked looked_over(const instruments::Captured& heard) const {
        if (!heard.reported.empty()) {
            return {false, "the card lost samples in a record of silence"};
        }
        for (std::size_t c = 0; c < heard.record.channels.size(); ++c) {
            const auto& samples = heard.record.channels[c];
            const auto [low, high] = std::minmax_element(samples.begin(), samples.end());
            if (samples.empty() || *low == *high) {
                return {false, fmt::format("channel {} gives one and the same sample", c + 1)};
            }
            const Waveform volts = calibrated(heard.record, c);
            double sum = 0.0;
            double mean = 0.0;
            for (const double one : volts.volts) {
                mean += one / static_cast<double>(volts.volts.size());
            }
            for (const double one : volts.volts) {
                sum += (one - mean) * (one - mean) / static_cast<double>(volts.volts.size());
            }
            if (std::sqrt(sum) > still_there * target_) {
                return {false, fmt::format("channel {} reads {:.3g} V with nothing driven", c + 1,
                                           std::sqrt(sum))};
            }
        }
        return {true, "the card records without a gap, and nothing comes in that is not driven"};
    }

    // --- the end ------------------------------------------------------------------------------

    Task<RunResult<void>> finish(RunResult<void> ended) {
        close_stream();
        if (player_.what() != What::nothing) {
            driven_in_all_ += now() - driven_since_;
        }
        const bool killed = result().soak->killed;
        const bool good = ended.has_value() && finished_ && !killed;
        RunResult<void> last = ended;
        if (good) {
            for (const std::size_t set : schedule_.at_end()) {
                last = co_await remeasure(set, "end");
                if (!last) {
                    break;
                }
            }
        }
        if (ended && keeper_.events().count() > 0 && !lost_) {
            co_await last_look_at_the_rig();
        }
        std::string why = why_;
        if (!ended) {
            why = ended.error().what;
        } else if (!last) {
            why = last.error().what;
        }
        const auto kept = keeper_.finish(observer_.log(), now(),
                                         good && last ? "finished"
                                         : killed     ? "killed"
                                                      : "stopped",
                                         good && last ? std::string{} : why);
        if (!kept) {
            co_return kept;
        }
        if (!last) {
            co_return last;
        }
        if (!good) {
            co_return trouble(Trouble::Kind::safety, why);
        }
        co_return RunResult<void>{};
    }

    Task<void> last_look_at_the_rig() {
        const auto muted = co_await player_.mute();
        if (!muted) {
            co_return;
        }
        const Seconds dies_away{0.5};
        co_await bench_.clock().sleep(dies_away);
        const auto heard = co_await bench_.capture().record(Seconds{1.0});
        if (heard) {
            const analysis::RigChecked checked = looked_over(*heard);
            keeper_.events().rig_checked(checked.passed, now());
        }
    }

    [[nodiscard]] static std::string time_words(Seconds time) {
        const auto minutes = static_cast<long>(std::floor(time.in<Seconds>() / 60.0 + 1e-9));
        return fmt::format("{}:{:02}", minutes / 60, minutes % 60);
    }

    SoakAtWork work_;
    const sequences::Soak& soak_;
    instruments::Bench& bench_;
    Seconds base_;        ///< soaked in earlier segments
    Seconds clock_base_;  ///< of the bench's clock, when this one began
    SoakKeeper keeper_;
    SoakSensors sensors_;
    SoakStream stream_;
    SoakPlayer player_;
    LevelFinder finder_;
    SoakSchedule schedule_;
    SoakObserver observer_;
    Ohms load_;
    double target_;  ///< V rms at the output
    MainsLog mains_log_;
    std::array<double, 2> drive_{};
    std::array<double, 2> found_drive_{};
    std::array<double, 2> output_{};
    double expected_watts_ = 0.0;
    std::array<GainSum, 2> gains_{};  ///< since it was last regulated
    Seconds driven_since_;
    Seconds driven_in_all_;
    Seconds regulated_;
    Seconds looked_{-1e9};
    Seconds minute_;
    bool lost_ = false;      ///< the card gives nothing any more
    bool finished_ = false;  ///< its time is up
    std::optional<Seconds> over_at_;
    std::string why_;
    std::optional<Seconds> off_asked_;
    int off_decision_ = 0;
};

}  // namespace

Task<RunResult<void>> carry_out_soak(SoakAtWork work) {
    RunDocument& document = work.document;
    const std::size_t result = work.result;
    SoakRun run{std::move(work)};
    std::string what;
    try {
        const auto ended = co_await run.carry_out();
        co_return ended;
    } catch (const std::exception& error) {
        what = error.what();
    }
    if (auto& soak = document.steps[result].soak) {
        soak->state = "stopped";
        soak->why = "the program itself failed: " + what;
    }
    co_return trouble(Trouble::Kind::bench_failed, "the program itself failed: " + what);
}

}  // namespace afterload::runner
