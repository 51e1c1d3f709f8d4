#include "runner/soak/soak_run.hpp"

#include "runner/evaluation/measured_conditions.hpp"
#include "runner/soak/hands_free_check.hpp"
#include "runner/soak/soak_drive.hpp"
#include "runner/soak/soak_keeper.hpp"
#include "runner/soak/soak_observer.hpp"
#include "runner/soak/soak_schedule.hpp"
#include "runner/soak/soak_stream.hpp"
#include "runner/wall_clock.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace afterload::runner {

using instruments::Task;
using What = SoakDrive::What;

namespace {

constexpr Seconds look_every{1.0};
constexpr Seconds minute{60.0};
constexpr Seconds off_within{0.5};
constexpr double still_there = 0.03;  // of the driven level: above it a mute has not worked
constexpr double steady_rise = 0.15;  // K/min
constexpr Seconds most_apart{0.3};

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
          stream_{bench_, work_.plan.bench, mains_frequency(work_.plan.sheet)},
          drive_{work_},
          schedule_{soak_},
          observer_{soak_, sensors_.watched(), nominal_mains(), keeper_.events(),
                    keeper_.trends()} {
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
    [[nodiscard]] StepResult& result() { return work_.document.steps[work_.result]; }
    [[nodiscard]] Seconds now() const { return base_ + bench_.clock().now() - clock_base_; }
    [[nodiscard]] std::optional<double> nominal_mains() const {
        return work_.plan.sheet.unit ? work_.plan.sheet.unit->mains_voltage : std::nullopt;
    }
    [[nodiscard]] SoakPlayer& player() { return drive_.player(); }
    [[nodiscard]] const SoakPlayer& player() const { return drive_.player(); }
    [[nodiscard]] bool held() {
        return observer_.reactions().state() != analysis::Reactions::State::driving;
    }
    [[nodiscard]] SoakDriving driving() const {
        SoakDriving driving;
        driving.driving = drive_.on();
        driving.driven_for = drive_.driven_for(now());
        driving.output_watts = drive_.watts();
        driving.learning = stream_.learning();
        driving.steady = player().what() == What::sine;
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
        if (due == player().what() && (stream_.open() || lost_)) {
            co_return RunResult<void>{};
        }
        RunResult<void> turned;
        if (due == What::nothing) {
            turned = co_await fall_silent();
        } else if (!drive_.on()) {
            turned = co_await begin_drive(due);
        } else {
            turned = co_await drive_.change(due);
            if (turned) {
                stream_.relearn(player().watched());
            }
        }
        co_return turned;
    }

    Task<RunResult<void>> fall_silent() {
        const auto muted = co_await drive_.mute(now());
        if (!muted) {
            co_return muted;
        }
        stream_.relearn(player().watched());
        const auto listening = co_await open_stream();
        if (!listening) {
            co_return listening;
        }
        const auto volts = co_await sensors_.quiescent();
        observer_.quiescent(volts, now(), drive_.driven_in_all(now()));
        co_return RunResult<void>{};
    }

    /// Rises to the level from below, as everything that drives does, and begins to watch.
    Task<RunResult<void>> begin_drive(What what) {
        close_stream();
        work_.progress.doing("finding the level of the soak");
        const auto begun = co_await drive_.begin(what);
        if (!begun) {
            co_return tl::unexpected(begun.error());
        }
        for (const std::string& finding : *begun) {
            keeper_.note(finding);
        }
        drive_.begun(now());
        observer_.drive_begins();
        const auto listening = co_await open_stream();
        co_return listening;
    }

    Task<RunResult<void>> regulate() {
        if (stream_.learning()) {
            co_return RunResult<void>{};
        }
        auto moved = co_await drive_.regulate(now());
        if (!moved) {
            co_return tl::unexpected(moved.error());
        }
        if (*moved) {
            if ((*moved)->change) {
                stream_.drive_changed(*(*moved)->change);
            }
            keeper_.regulated(std::move((*moved)->told));
        }
        co_return RunResult<void>{};
    }

    // --- what is measured again ---------------------------------------------------------------

    Task<RunResult<void>> remeasure(std::size_t set, std::string when) {
        close_stream();
        const auto muted = co_await drive_.mute(now());
        if (!muted) {
            co_return muted;
        }
        for (const sequences::Step& step : soak_.remeasure[set].steps) {
            auto measured = co_await work_.measure(step, when);
            if (!measured) {
                co_return measured;
            }
            const SlowLook look = co_await sensors_.look();
            observer_.looked(look, now(), driving());
        }
        const auto quiet = co_await drive_.mute(now());
        co_return quiet;
    }

    // --- what is heard ------------------------------------------------------------------------

    Task<RunResult<void>> open_stream() {
        if (stream_.open()) {
            co_return RunResult<void>{};
        }
        const auto opened = co_await stream_.begin(now(), player().watched());
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
            const auto came = co_await stream_.next(player(), now());
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
            drive_.add(reading);
        }
    }

    /// A source on a clock of its own runs away from the record, by a second in a day or two.
    void stay_together() {
        const auto latency = stream_.latency();
        const auto most = frames_in(most_apart, stream_.rate());
        if (!latency || std::abs(latency->count()) < most.count()) {
            return;
        }
        player().stand_back(*latency);
        stream_.relearn(player().watched());
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
        const bool quiet = !stream_.open() || stream_.loudest() < still_there * drive_.target();
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
        const auto muted = co_await drive_.mute(now());
        if (!muted) {
            keeper_.done(place, Seconds{0.0}, muted.error().what);
            observer_.news({analysis::BenchNews::Kind::drive_not_off, muted.error().what}, now());
            co_return;
        }
        stream_.relearn(player().watched());
        off_asked_ = now();
        off_decision_ = place;
    }

    Task<void> mains_off(int place) {
        const Seconds from = now();
        const auto muted = co_await drive_.mute(from);
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
        stream_.relearn(player().watched());
        keeper_.done(place, now() - from, done);
    }

    [[nodiscard]] analysis::RigChecked looked_at(const instruments::Captured& silence) const {
        return hands_free_check(silence, VoltsRms{still_there * drive_.target()},
                                work_.plan.bench.stand_in);
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
            checked = looked_at(*heard);
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

    // --- the end ------------------------------------------------------------------------------

    Task<RunResult<void>> finish(RunResult<void> ended) {
        close_stream();
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
        const auto muted = co_await drive_.mute(now());
        if (!muted) {
            co_return;
        }
        const Seconds dies_away{0.5};
        co_await bench_.clock().sleep(dies_away);
        const auto heard = co_await bench_.capture().record(Seconds{1.0});
        if (heard) {
            keeper_.events().rig_checked(looked_at(*heard).passed, now());
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
    SoakDrive drive_;
    SoakSchedule schedule_;
    SoakObserver observer_;
    MainsLog mains_log_;
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
