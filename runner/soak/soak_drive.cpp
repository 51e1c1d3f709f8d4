#include "runner/soak/soak_drive.hpp"

#include "analysis/level.hpp"
#include "analysis/level_change.hpp"
#include "runner/evaluation/bench_share.hpp"
#include "runner/evaluation/measured_conditions.hpp"
#include "runner/soak/soak_run.hpp"
#include "runner/step_levels.hpp"
#include "sequences/review.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace afterload::runner {

using instruments::Task;

namespace {

constexpr double moves_at_most = 0.1;   // dB up or down in one regulation
constexpr double moves_from = 0.02;     // dB: less is left alone
constexpr double moved_in_all = 1.0;    // dB: what asks for more is no matter of regulation
constexpr double below_target = 0.005;  // dB that what is driven aims below it: it is never passed
constexpr double gone = 0.1;  // of the target: what is gone is not brought back by more drive

double rms_target(const SoakAtWork& work, Ohms load) {
    const auto watts = watts_of(work.step.soak->level, work.plan.sheet, load, work.step.driven);
    return watts ? voltage_for(*watts, load).in<VoltsRms>() : 0.0;
}

SoakLoop loop_of(const SoakAtWork& work) {
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

}  // namespace

SoakDrive::SoakDrive(const SoakAtWork& work)
    : work_{work},
      soak_{*work.step.soak},
      player_{work.driver, soak_.frequency, work.plan.bench.card.rate, loop_of(work)},
      finder_{work.driver},
      load_{sequences::load_on(work.plan.bench, work.step.load)},
      target_{rms_target(work, load_)} {}

Task<RunResult<std::vector<std::string>>> SoakDrive::begin(What what) {
    const auto connected = co_await work_.driver.connect_load(load_);
    if (!connected) {
        co_return tl::unexpected(connected.error());
    }
    const double crest = player_.crest(what);
    const auto* range = range_for(work_.plan.bench, peak_of_sine(VoltsRms{crest * target_}));
    const auto selected = co_await work_.driver.select_range(
        (range != nullptr ? *range : resting_range(work_.plan.bench)).name);
    if (!selected) {
        co_return tl::unexpected(selected.error());
    }
    LevelRequest request;
    request.path = work_.path;
    request.terminals = work_.terminals;
    request.frequency = what == What::sine ? soak_.frequency : level_frequency;
    request.load = load_;
    request.mains = mains_frequency(work_.plan.sheet);
    for (std::size_t c = 0; c < 2; ++c) {
        request.target[c] = drives(work_.step.driven, c) ? target_ : 0.0;
    }
    auto reached = co_await finder_.reach(std::move(request));
    if (!reached) {
        co_return tl::unexpected(reached.error());
    }
    drive_ = reached->drive;
    found_drive_ = drive_;
    output_ = reached->output;
    expected_watts_ = 0.0;
    for (const double volts : output_) {
        expected_watts_ += dissipated(VoltsRms{volts}, load_).in<Watts>();
    }
    const auto playing = co_await change(what);
    if (!playing) {
        co_return tl::unexpected(playing.error());
    }
    co_return std::move(reached->findings);
}

void SoakDrive::begun(Seconds now) {
    since_ = now;
    regulated_ = now;
    gains_ = {};
}

Task<RunResult<void>> SoakDrive::change(What what) {
    const auto played = co_await player_.play(what, drive_, output_);
    co_return played;
}

Task<RunResult<void>> SoakDrive::mute(Seconds now) {
    const Seconds driven = driven_for(now);
    const auto muted = co_await player_.mute();
    if (muted) {
        in_all_ += driven;
    }
    co_return muted;
}

void SoakDrive::add(const analysis::SoakReading& reading) {
    if (reading.learning || reading.kind == analysis::WatchedStimulus::Kind::silence) {
        return;
    }
    for (std::size_t c = 0; c < reading.channels.size() && c < 2; ++c) {
        if (const auto& gain = reading.channels[c].gain) {
            gains_[c].sum += amplitude_ratio(*gain).in<AmplitudeRatio>();
            gains_[c].count += 1.0;
        }
    }
}

Task<RunResult<std::optional<SoakDrive::Moved>>> SoakDrive::regulate(Seconds now) {
    using Result = RunResult<std::optional<Moved>>;
    if (soak_.regulate <= Seconds{0.0} || now - regulated_ < soak_.regulate || !on()) {
        co_return Result{};
    }
    // By the gain: the level of noise and music moves by itself.
    std::array<double, 2> level{};
    for (std::size_t c = 0; c < 2; ++c) {
        level[c] = gains_[c].count > 0.0 ? drive_[c] * gains_[c].sum / gains_[c].count : 0.0;
    }
    const double highest = std::max(level[0], level[1]);
    regulated_ = now;
    gains_ = {};
    if (!(highest > gone * target_)) {
        co_return Result{};
    }
    const double off = analysis::level_change_db(highest / target_) + below_target;
    if (std::abs(off) < moves_from) {
        co_return Result{};
    }
    const Gain change_by{std::clamp(-off, -moves_at_most, moves_at_most)};
    const double factor = amplitude_ratio(change_by).in<AmplitudeRatio>();
    std::array<double, 2> drive = drive_;
    std::array<double, 2> output = level;
    double in_all = 0.0;
    for (std::size_t c = 0; c < 2; ++c) {
        drive[c] *= factor;
        output[c] *= factor;
        if (found_drive_[c] > 0.0) {
            in_all =
                std::max(in_all, std::abs(analysis::level_change_db(drive[c] / found_drive_[c])));
        }
    }
    Moved left_alone;
    left_alone.told = {now, 0.0, drive_[0], drive_[1], {}};
    if (in_all > moved_in_all) {
        left_alone.told.why = "left alone: it would be moved by more than 1 dB in all";
        co_return Result{std::move(left_alone)};
    }
    const auto played = co_await player_.play(player_.what(), drive, output);
    if (!played && played.error().kind == Trouble::Kind::limit) {
        left_alone.told.why = played.error().what;
        co_return Result{std::move(left_alone)};
    }
    if (!played) {
        co_return tl::unexpected(played.error());
    }
    drive_ = drive;
    output_ = output;
    Moved moved;
    moved.told = {now, change_by.decibels(), drive[0], drive[1],
                  fmt::format("the louder channel stood {:+.3f} dB from its target", off)};
    moved.change = change_by;
    co_return Result{std::move(moved)};
}

}  // namespace afterload::runner
