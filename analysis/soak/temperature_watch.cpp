#include "analysis/soak/temperature_watch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

using Kind = TemperatureFinding::Kind;
using Weight = TemperatureFinding::Weight;

// A converter that resets tells the one, a bus without its pull-up the other.
constexpr double at_reset = 85.0;
constexpr double no_answer = -127.0;
constexpr double near_reset = 2.0;
constexpr double power_over_s = 30.0;
constexpr double longest_between_s = 10.0;
constexpr std::size_t least_for_rise = 4;
constexpr double warm_again = 2.0;  // degC below a limit, before it is over

std::size_t index(Kind kind) {
    return static_cast<std::size_t>(kind);
}

std::string in_words(Kind kind, const std::string& name, double value, double limit) {
    switch (kind) {
        case Kind::warm:
            return fmt::format("{}: {:.1f} degC, warned from {:.1f} degC", name, value, limit);
        case Kind::hot:
            return fmt::format("{}: {:.1f} degC, stopped from {:.1f} degC", name, value, limit);
        case Kind::fast:
            return fmt::format("{}: rises by {:.1f} degC a minute, warned from {:.1f}", name, value,
                               limit);
        case Kind::runaway:
            return fmt::format("{}: rises by {:.1f} degC a minute, stopped from {:.1f}", name,
                               value, limit);
        case Kind::dead:
            return fmt::format("{}: no longer to be believed; counts as too hot", name);
        case Kind::frozen:
            return fmt::format(
                "{}: stands at {:.1f} degC though the power changed; counts as too "
                "hot",
                name, value);
        case Kind::apart:
            return fmt::format(
                "{}: {:.1f} degC from another sensor of its place, at most {:.1f}; "
                "the hotter counts",
                name, value, limit);
        case Kind::recovered:
            return fmt::format("{}: {:.1f} degC, as it should be again", name, value);
    }
    return "";
}

}  // namespace

TemperatureWatch::TemperatureWatch(std::vector<WatchedSensor> sensors, TemperatureSettings settings)
    : sensors_{std::move(sensors)},
      settings_{settings},
      standing_(sensors_.size()),
      states_(sensors_.size()) {}

bool TemperatureWatch::another_trusted(std::size_t sensor) const {
    for (std::size_t i = 0; i < sensors_.size(); ++i) {
        if (i != sensor && sensors_[i].place == sensors_[sensor].place && standing_[i].trusted) {
            return true;
        }
    }
    return false;
}

Weight TemperatureWatch::weight(std::size_t sensor, Kind kind) const {
    switch (kind) {
        case Kind::hot:
        case Kind::runaway:
            return Weight::over_temperature;
        case Kind::dead:
        case Kind::frozen:
            return settings_.second_suffices && another_trusted(sensor) ? Weight::flag
                                                                        : Weight::over_temperature;
        case Kind::recovered:
            return Weight::note;
        default:
            return Weight::flag;
    }
}

// Tells a finding when it begins, and that it is over.
void TemperatureWatch::set(std::size_t sensor, Kind kind, bool now, Seconds time, double value,
                           double limit, std::vector<TemperatureFinding>& findings) {
    bool& found = states_[sensor].found[index(kind)];
    if (found == now) {
        return;
    }
    found = now;
    TemperatureFinding finding;
    finding.kind = now ? kind : Kind::recovered;
    finding.recovered_from = kind;
    finding.weight = now ? weight(sensor, kind) : Weight::note;
    finding.sensor = sensor;
    finding.time = time;
    finding.value = value;
    finding.limit = limit;
    finding.what = in_words(finding.kind, sensors_[sensor].name, value, limit);
    findings.push_back(std::move(finding));
}

std::vector<TemperatureFinding> TemperatureWatch::add(Seconds time,
                                                      std::span<const SensorReading> readings,
                                                      std::optional<Watts> power,
                                                      Seconds driven_for) {
    std::vector<TemperatureFinding> findings;
    const double now_s = time.in<Seconds>();
    if (power) {
        const double watts = power->in<Watts>();
        const double share = power_ ? 1.0 - std::exp(-(now_s - power_time_s_) / power_over_s) : 1.0;
        power_ = power_.value_or(watts) + share * (watts - power_.value_or(watts));
        power_time_s_ = now_s;
    }
    for (std::size_t i = 0; i < sensors_.size(); ++i) {
        const SensorReading reading = i < readings.size() ? readings[i] : SensorReading{};
        State& state = states_[i];
        SensorStanding& standing = standing_[i];
        bool good = reading.value.has_value() && !reading.fault_code &&
                    std::isfinite(reading.value->in<Celsius>());
        if (good && reading.stamp && time - *reading.stamp > settings_.stale_after) {
            good = false;
        }
        if (good) {
            const double value = reading.value->in<Celsius>();
            const bool came_near = !state.recent.empty() &&
                                   std::abs(state.recent.back().value - at_reset) <= near_reset;
            good = value != no_answer && (value != at_reset || came_near);
        }
        if (!good) {
            ++state.bad;
            if (state.bad >= settings_.missed) {
                standing.dead = true;
                standing.trusted = false;
                standing.rise.reset();
                state.recent.clear();
            }
            continue;
        }
        state.bad = 0;
        standing.dead = false;
        const double value = reading.value->in<Celsius>();
        standing.value = Celsius{value};
        if (state.recent.empty() || value != state.held) {
            state.held = value;
            state.held_since_s = now_s;
            state.held_power = power_;
            state.moved_at_s.reset();
            state.moved_joules = 0.0;
            standing.frozen = false;
        }
        state.recent.push_back({now_s, value});
        while (state.recent.size() > 1 &&
               now_s - state.recent.front().time_s > settings_.rise_over.in<Seconds>()) {
            state.recent.erase(state.recent.begin());
        }
        if (power_ && state.held_power) {
            const double away = std::abs(*power_ - *state.held_power);
            const bool moved = away >= settings_.frozen_power.in<Watts>() &&
                               away >= settings_.frozen_share * std::abs(*state.held_power);
            const double after_s = settings_.frozen_after.in<Seconds>();
            // It may come back in between, as where the drive goes on and off: as much heat more or
            // less as the least change makes in that time must show. What was back for as long as
            // that is forgotten.
            if (!moved && state.moved_at_s && now_s - state.last_moved_s >= after_s) {
                state.moved_at_s.reset();
                state.moved_joules = 0.0;
            }
            state.last_moved_s = moved ? now_s : state.last_moved_s;
            if (moved && !state.moved_at_s) {
                state.moved_at_s = now_s;
            } else if (moved) {
                state.moved_joules += away * std::min(now_s - state.looked_s, longest_between_s);
            }
            standing.frozen = state.moved_at_s && now_s - *state.moved_at_s >= after_s &&
                              state.moved_joules >= settings_.frozen_power.in<Watts>() * after_s;
        } else if (power_) {
            state.held_power = power_;
        }
        state.looked_s = now_s;
        standing.trusted = !standing.frozen;
    }
    for (std::size_t i = 0; i < sensors_.size(); ++i) {
        judge(i, time, driven_for, findings);
    }
    return findings;
}

void TemperatureWatch::judge(std::size_t sensor, Seconds time, Seconds driven_for,
                             std::vector<TemperatureFinding>& findings) {
    const WatchedSensor& watched = sensors_[sensor];
    State& state = states_[sensor];
    SensorStanding& standing = standing_[sensor];
    const double value = standing.value ? standing.value->in<Celsius>() : 0.0;
    set(sensor, Kind::dead, standing.dead, time, value, 0.0, findings);
    set(sensor, Kind::frozen, standing.frozen, time, value, 0.0, findings);
    if (standing.dead || state.recent.empty()) {
        return;
    }
    const auto over = [&](Kind kind, const std::optional<Celsius>& limit) {
        if (limit) {
            const double at = limit->in<Celsius>();
            const bool was = state.found[index(kind)];
            set(sensor, kind, was ? value > at - warm_again : value >= at, time, value, at,
                findings);
        }
    };
    over(Kind::warm, watched.warn);
    over(Kind::hot, watched.stop);

    standing.rise.reset();
    const auto& recent = state.recent;
    const double span_s = recent.back().time_s - recent.front().time_s;
    if (recent.size() >= least_for_rise && span_s >= 0.5 * settings_.rise_over.in<Seconds>()) {
        double t_mean = 0.0;
        double v_mean = 0.0;
        for (const Dated& one : recent) {
            t_mean += one.time_s / static_cast<double>(recent.size());
            v_mean += one.value / static_cast<double>(recent.size());
        }
        double tt = 0.0;
        double tv = 0.0;
        for (const Dated& one : recent) {
            tt += (one.time_s - t_mean) * (one.time_s - t_mean);
            tv += (one.time_s - t_mean) * (one.value - v_mean);
        }
        standing.rise = 60.0 * tv / tt;
        const auto fast = [&](Kind kind, const std::optional<double>& limit, bool counts) {
            if (limit) {
                const bool was = state.found[index(kind)];
                const double from = was ? 0.8 * *limit : *limit;
                set(sensor, kind, counts && *standing.rise >= from, time, *standing.rise, *limit,
                    findings);
            }
        };
        fast(Kind::fast, watched.warn_rise, driven_for >= settings_.warm_after);
        fast(Kind::runaway, watched.stop_rise, true);
    }

    // The cooler of two tells that they disagree.
    double apart = 0.0;
    for (std::size_t i = 0; i < sensors_.size(); ++i) {
        if (i != sensor && sensors_[i].place == watched.place && standing_[i].trusted &&
            standing.trusted) {
            apart = std::max(apart, standing_[i].value->in<Celsius>() - value);
        }
    }
    set(sensor, Kind::apart, apart > settings_.most_apart, time, apart, settings_.most_apart,
        findings);
}

std::optional<Celsius> TemperatureWatch::hottest(const std::string& place) const {
    std::optional<Celsius> hottest;
    for (std::size_t i = 0; i < sensors_.size(); ++i) {
        if (standing_[i].trusted && (place.empty() || sensors_[i].place == place)) {
            hottest = std::max(hottest.value_or(*standing_[i].value), *standing_[i].value);
        }
    }
    return hottest;
}

bool TemperatureWatch::over_temperature() const {
    for (std::size_t i = 0; i < sensors_.size(); ++i) {
        for (const Kind kind : {Kind::hot, Kind::runaway, Kind::dead, Kind::frozen}) {
            if (states_[i].found[index(kind)] && weight(i, kind) == Weight::over_temperature) {
                return true;
            }
        }
    }
    return false;
}

}  // namespace afterload::analysis
