#include "runner/load_look.hpp"

#include "analysis/level.hpp"
#include "analysis/tone_figure.hpp"
#include "runner/level_steps.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace afterload::runner {

using instruments::Task;

namespace {

constexpr Watts most_power{1.2};
constexpr Seconds to_die_away{0.1};    // before the load is let go
constexpr double missed = 1e-4;        // relative: less change than that is none
constexpr double sure = 0.3 * missed;  // what both levels together must be known to
constexpr Seconds look_time{0.1};
constexpr double room = 1.1;  // an output without its load rises

std::string key_of(const std::string& terminals, std::size_t channel) {
    return terminals + "|" + side_of(channel);
}

}  // namespace

bool may_be_driven_open(const RatingSheet& sheet) {
    return !sheet.unit || !sheet.unit->output_transformer;
}

VoltsRms most_for_load_look(Ohms load) {
    return voltage_for(most_power, load);
}

Seconds load_look_reading(Hertz frequency) {
    return look_length(frequency, look_time);
}

Seconds load_look_length(Hertz frequency, Seconds settle) {
    return 2.0 * load_look_reading(frequency) + to_die_away +
           3.0 * std::min(settle, approach_settle) + settle;
}

Seconds load_look_loaded(Hertz frequency, Seconds settle) {
    return load_look_reading(frequency) + 2.0 * std::min(settle, approach_settle) + settle;
}

bool LoadLook::due(const std::string& terminals, const LevelReached& level, Ohms load) const {
    instruments::Load& loads = driver_.bench().load();
    if (!loads.switched() || !loads.connected()) {
        return false;
    }
    bool wanted = false;
    for (std::size_t c = 0; c < 2; ++c) {
        if (VoltsRms{level.output[c]} > most_for_load_look(load)) {
            return false;
        }
        wanted = wanted ||
                 (level.seen[c] && level.drive[c] > 0.0 && !looked_.contains(key_of(terminals, c)));
    }
    return wanted;
}

Task<RunResult<void>> LoadLook::play(LevelReached level, Hertz frequency, Seconds settle) {
    const ToneDrive drive{frequency, level.drive};
    const ExpectedOutput expected{room * level.output[0], room * level.output[1]};
    const auto played = co_await driver_.play(drive, expected);
    if (!played) {
        co_return played;
    }
    const auto settled = co_await driver_.wait(settle);
    co_return settled;
}

Task<RunResult<void>> LoadLook::look(std::string terminals, Ohms load, LevelReached level,
                                     Hertz frequency, std::optional<Hertz> mains, Seconds settle) {
    LevelReached half = level;
    for (std::size_t c = 0; c < 2; ++c) {
        half.drive[c] *= 0.5;
        half.output[c] *= 0.5;
    }
    const Seconds short_settle = std::min(settle, approach_settle);
    auto settled = co_await play(half, frequency, short_settle);
    if (!settled) {
        co_return settled;
    }
    const auto with = co_await finder_.look(frequency, mains, look_time);
    if (!with) {
        co_return tl::unexpected(with.error());
    }
    const auto released = co_await driver_.release_load();
    if (!released) {
        co_return released;
    }
    settled = co_await play(half, frequency, short_settle);
    if (!settled) {
        co_return settled;
    }
    const auto without = co_await finder_.look(frequency, mains, look_time);
    if (!without) {
        co_return tl::unexpected(without.error());
    }
    const auto muted = co_await driver_.mute();
    if (!muted) {
        co_return muted;
    }
    const auto connected = co_await driver_.connect_load(load);
    if (!connected) {
        co_return connected;
    }
    settled = co_await play(half, frequency, short_settle);
    if (!settled) {
        co_return settled;
    }
    settled = co_await play(level, frequency, settle);
    if (!settled) {
        co_return settled;
    }
    std::string gone;
    for (std::size_t c = 0; c < 2; ++c) {
        const auto& a = (*with)[c];
        const auto& b = (*without)[c];
        if (level.drive[c] <= 0.0 || !a || !b) {
            continue;
        }
        const double change = b->fundamental.amplitude / a->fundamental.amplitude - 1.0;
        const double u = std::hypot(analysis::relative_noise(*a), analysis::relative_noise(*b));
        if (u > sure) {
            continue;
        }
        looked_.insert(key_of(terminals, c));
        if (std::abs(change) < missed) {
            gone += fmt::format("{}{}", gone.empty() ? "" : " and ", side_of(c));
        }
    }
    if (!gone.empty()) {
        co_return trouble(
            Trouble::Kind::bench_failed,
            fmt::format(
                "no load on {}: the level stays the same to 0.01 % when the load is let go. "
                "Look at the load's leads and its relay; power and distortion would be "
                "those of no load",
                gone));
    }
    co_return RunResult<void>{};
}

}  // namespace afterload::runner
