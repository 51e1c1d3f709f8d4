#include "runner/driver.hpp"

#include "analysis/level.hpp"
#include "analysis/stimulus.hpp"
#include "runner/evaluation/bench_share.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::runner {

using instruments::Task;

namespace {

constexpr double not_quite = 1.0 - 1e-9;  // a peak at full scale, after rounding

}  // namespace

const char* side_of(std::size_t channel) {
    return channel == 0 ? "left" : "right";
}

RunResult<void> Driver::going_on() const {
    if (stop_.load()) {
        return trouble(Trouble::Kind::signalled, "the run was told to stop");
    }
    return {};
}

double Driver::largest_output(Ohms load, const std::string& range) const {
    return runner::largest_output(file_, load, range);
}

Task<RunResult<void>> Driver::hand_over(bool to_generator) {
    if (to_generator == from_generator_) {
        co_return RunResult<void>{};
    }
    const auto muted = co_await mute();
    if (!muted) {
        co_return muted;
    }
    from_generator_ = to_generator;
    co_return RunResult<void>{};
}

Task<RunResult<void>> Driver::play(ToneDrive drive, ExpectedOutput expected) {
    StimulusDrive tone{{}, drive.volts};
    for (std::size_t c = 0; c < 2; ++c) {
        if (drive.volts[c] > 0.0) {
            tone.stimulus.channels[c].push_back({drive.frequency,
                                                 peak_of_sine(VoltsRms{drive.volts[c]}),
                                                 Radians{-std::numbers::pi / 2}});
        }
    }
    const auto played = co_await play(std::move(tone), expected);
    co_return played;
}

Task<RunResult<void>> Driver::play(StimulusDrive drive, ExpectedOutput expected) {
    if (const auto on = going_on(); !on) {
        co_return on;
    }
    const std::string range = bench_.range_switch().selected();
    for (std::size_t c = 0; c < 2; ++c) {
        const char* side = side_of(c);
        const auto* load = load_of(file_, static_cast<int>(c) + 1, load_);
        if (file_.limits.largest_drive &&
            drive.volts[c] > file_.limits.largest_drive->in<VoltsRms>()) {
            co_return trouble(
                Trouble::Kind::limit,
                fmt::format("{}: a drive of {:.3g} V would pass the largest drive of "
                            "the bench, {:.3g} V",
                            side, drive.volts[c], file_.limits.largest_drive->in<VoltsRms>()));
        }
        if (load != nullptr && expected[c] > largest_output(load->resistance, range)) {
            co_return trouble(
                Trouble::Kind::limit,
                fmt::format("{}: an output of {:.3g} V would pass what the bench "
                            "allows on range {}, {:.3g} V",
                            side, expected[c], range, largest_output(load->resistance, range)));
        }
    }
    const auto played = co_await source().play(std::move(drive.stimulus));
    if (!played) {
        co_return trouble(played.error());
    }
    driving_ = true;
    co_return RunResult<void>{};
}

double Driver::largest_drive() const {
    const double most = voltage_at(DbFs{0.0}, full_scale()).in<VoltsRms>() * not_quite;
    return file_.limits.largest_drive ? std::min(most, file_.limits.largest_drive->in<VoltsRms>())
                                      : most;
}

Task<RunResult<void>> Driver::mute() {
    const auto muted = co_await source().mute();
    if (!muted) {
        co_return trouble(muted.error());
    }
    driving_ = false;
    co_return RunResult<void>{};
}

Task<RunResult<void>> Driver::select_range(std::string name) {
    if (bench_.range_switch().selected() == name) {
        co_return RunResult<void>{};
    }
    if (driving_) {
        const auto muted = co_await mute();
        if (!muted) {
            co_return muted;
        }
        // The output must have died away before a more sensitive range meets it.
        co_await bench_.clock().sleep(Seconds{0.1});
    }
    const auto selected = co_await bench_.range_switch().select(std::move(name));
    if (!selected) {
        co_return trouble(selected.error());
    }
    co_return RunResult<void>{};
}

Task<RunResult<void>> Driver::connect_load(Ohms load) {
    if (bench_.load().connected() && load_ && same_load(*load_, load)) {
        co_return RunResult<void>{};
    }
    if (driving_) {
        const auto muted = co_await mute();
        if (!muted) {
            co_return muted;
        }
        co_await bench_.clock().sleep(Seconds{0.1});
    }
    const auto connected = co_await bench_.load().connect(load);
    if (!connected) {
        co_return trouble(connected.error());
    }
    load_ = load;
    co_return RunResult<void>{};
}

Task<RunResult<void>> Driver::release_load() {
    if (!bench_.load().connected()) {
        co_return RunResult<void>{};
    }
    if (driving_) {
        const auto muted = co_await mute();
        if (!muted) {
            co_return muted;
        }
    }
    co_await bench_.clock().sleep(Seconds{0.1});
    const auto released = co_await bench_.load().release();
    if (!released) {
        co_return trouble(released.error());
    }
    co_return RunResult<void>{};
}

Task<RunResult<void>> Driver::wait(Seconds time) {
    // In pieces, so that a stop is heard while a dwell of minutes goes on.
    for (Seconds left = time; left > Seconds{0.0};) {
        if (const auto on = going_on(); !on) {
            co_return on;
        }
        const Seconds piece = std::min(left, Seconds{1.0});
        co_await bench_.clock().sleep(piece);
        left -= piece;
    }
    co_return RunResult<void>{};
}

Task<RunResult<instruments::Captured>> Driver::record(Seconds length) {
    if (const auto on = going_on(); !on) {
        co_return tl::unexpected(on.error());
    }
    auto captured = co_await bench_.capture().record(length);
    if (!captured) {
        co_return trouble(captured.error());
    }
    co_return *std::move(captured);
}

}  // namespace afterload::runner
