#include "runner/rig/loop.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::runner {

using instruments::Task;

namespace {

constexpr Seconds settling{0.4};

sequences::Prompt loop_prompt(bool joined) {
    sequences::Prompt prompt;
    prompt.title = joined ? "Join the loop" : "Part the loop";
    if (joined) {
        prompt.checks = {"the unit's leads are off: nothing but the bench is connected",
                         "source output 1 on the left sense lead, output 2 on the right"};
    } else {
        prompt.checks = {"source outputs back on the unit's inputs",
                         "sense leads back on the unit's outputs, left on left"};
    }
    return prompt;
}

}  // namespace

RunResult<void> loop_there(const sequences::BenchFile& bench) {
    if (bench.loop == "none") {
        return trouble(Trouble::Kind::gate,
                       "the bench file says loop: none, and this needs one: two short leads from "
                       "the source's outputs to the sense leads will do; write loop: by_hand");
    }
    return {};
}

Task<RunResult<void>> join_loop(Driver& driver, Operator& person, bool joined) {
    const auto muted = co_await driver.mute();
    if (!muted) {
        co_return muted;
    }
    auto there = loop_there(driver.file());
    if (!there) {
        co_return there;
    }
    instruments::Hands* const hands = driver.bench().hands();
    if (hands == nullptr) {
        const bool done = person.ask(loop_prompt(joined), 0, 0) == Answer::done;
        co_return done ? RunResult<void>{}
                       : trouble(Trouble::Kind::person, "the loop was not made: stopped");
    }
    std::string control = "leads";
    std::string position = joined ? "loop" : "unit";
    const auto set = co_await hands->set(std::move(control), std::move(position));
    if (!set) {
        co_return trouble(set.error());
    }
    co_return RunResult<void>{};
}

double LoopTone::volts(std::size_t channel) const {
    const auto& fit = fits.at(channel);
    return fit ? fit->fundamental.amplitude / std::numbers::sqrt2 : 0.0;
}

Task<RunResult<instruments::Captured>> record_settled(Driver& driver, Seconds length) {
    const auto waited = co_await driver.wait(settling);
    if (!waited) {
        co_return tl::unexpected<Trouble>(waited.error());
    }
    auto captured = co_await driver.record(length);
    co_return captured;
}

Task<RunResult<LoopTone>> look_at_loop(Driver& driver, ToneDrive drive, Seconds length) {
    const ExpectedOutput expected{drive.volts[0], drive.volts[1]};
    const Hertz frequency = drive.frequency;
    const auto played = co_await driver.play(drive, expected);
    if (!played) {
        co_return tl::unexpected<Trouble>(played.error());
    }
    const auto captured = co_await record_settled(driver, length);
    if (!captured) {
        co_return tl::unexpected<Trouble>(captured.error());
    }
    LoopTone tone;
    tone.reported = captured->reported;
    for (std::size_t c = 0; c < 2; ++c) {
        tone.records[c] = calibrated(captured->record, c);
        analysis::ToneFitSettings settings;
        settings.nominal = frequency;
        settings.mains = Hertz{50.0};
        auto fit = analysis::fit_tone(tone.records[c], settings);
        if (fit) {
            tone.fits[c] = *std::move(fit);
        }
    }
    co_return tone;
}

double loop_drive(const sequences::BenchFile& bench, const sequences::RangeEntry& range) {
    const double peak = 0.7 * std::min(range.full_scale, range.safe).in<VoltsPeak>();
    double volts =
        std::min({1.0, 0.5 * bench.source.full_scale.in<VoltsRms>(), peak / std::numbers::sqrt2});
    if (bench.limits.largest_drive) {
        volts = std::min(volts, bench.limits.largest_drive->in<VoltsRms>());
    }
    return volts;
}

std::vector<sequences::RangeEntry> ranges_safest_first(const sequences::BenchFile& bench) {
    std::vector<sequences::RangeEntry> ranges = bench.ranges;
    std::stable_sort(ranges.begin(), ranges.end(),
                     [](const auto& a, const auto& b) { return a.full_scale > b.full_scale; });
    return ranges;
}

}  // namespace afterload::runner
