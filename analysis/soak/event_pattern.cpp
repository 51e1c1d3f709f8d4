#include "analysis/soak/event_pattern.hpp"

#include "analysis/median.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

namespace afterload::analysis {
namespace {

using Against = EventPattern::Against;

constexpr double together_s = 5.0;
constexpr double slope_over_s = 120.0;
constexpr double steady = 0.1;  // degC a minute
constexpr int least_events = 3;
constexpr std::array<double, 3> degrees{1.0, 2.0, 4.0};
constexpr std::array<double, 3> spans_s{10.0, 30.0, 60.0};

struct Place {
    double temperature = 0.0;
    double since_s = 0.0;
    int direction = 0;    // of the temperature
    double weight = 0.0;  // s of watched time that the log's entry stands for
};

// P(X >= k) of `n` draws that each come with probability `p`; summed from its largest term down.
double tail(int k, int n, double p) {
    if (k <= 0) {
        return 1.0;
    }
    if (!(p > 0.0)) {
        return 0.0;
    }
    if (p >= 1.0) {
        return 1.0;
    }
    double sum = 0.0;
    for (int i = k; i <= n; ++i) {
        sum += std::exp(std::lgamma(n + 1.0) - std::lgamma(i + 1.0) - std::lgamma(n - i + 1.0) +
                        i * std::log(p) + (n - i) * std::log1p(-p));
    }
    return std::min(1.0, sum);
}

std::vector<Place> places_of(std::span<const TemperatureLogged> log) {
    std::vector<double> gaps;
    for (std::size_t i = 1; i < log.size(); ++i) {
        gaps.push_back((log[i].time - log[i - 1].time).in<Seconds>());
    }
    const double pace = median_of(gaps);
    std::vector<Place> places;
    std::size_t before = 0;
    for (std::size_t i = 0; i < log.size(); ++i) {
        const double now_s = log[i].time.in<Seconds>();
        while (before < i && now_s - log[before].time.in<Seconds>() > slope_over_s) {
            ++before;
        }
        const double minutes = (now_s - log[before].time.in<Seconds>()) / 60.0;
        const double rise =
            minutes > 0.0 ? (log[i].temperature - log[before].temperature).in<Celsius>() / minutes
                          : 0.0;
        const double gap = i < gaps.size() ? std::min(gaps[i], 2.0 * pace) : pace;
        places.push_back({log[i].temperature.in<Celsius>(), log[i].since_drive.in<Seconds>(),
                          rise > steady    ? 1
                          : rise < -steady ? -1
                                           : 0,
                          log[i].watched ? gap : 0.0});
    }
    return places;
}

// Where each occasion falls in the log; those that fall outside what was watched have no place.
std::vector<Place> placed(std::span<const SoakEvent> events, std::span<const TemperatureLogged> log,
                          const std::vector<Place>& places) {
    std::vector<const SoakEvent*> ordered;
    for (const SoakEvent& event : events) {
        if (!event.withdrawn) {
            ordered.push_back(&event);
        }
    }
    std::sort(ordered.begin(), ordered.end(),
              [](const SoakEvent* a, const SoakEvent* b) { return a->seen.start < b->seen.start; });
    std::vector<Place> result;
    double last_s = -1e300;
    for (const SoakEvent* event : ordered) {
        const double at_s = event->seen.start.in<Seconds>();
        const bool same_occasion = at_s - last_s < together_s;
        last_s = at_s;
        if (same_occasion) {
            continue;
        }
        const auto after = std::lower_bound(
            log.begin(), log.end(), at_s,
            [](const TemperatureLogged& one, double t) { return one.time.in<Seconds>() < t; });
        std::size_t i = static_cast<std::size_t>(after - log.begin());
        i = i == log.size() ? i - 1 : i;
        if (i > 0 &&
            at_s - log[i - 1].time.in<Seconds>() < std::abs(log[i].time.in<Seconds>() - at_s)) {
            --i;
        }
        Place place = places[i];
        if (place.weight == 0.0) {
            continue;
        }
        if (event->temperature) {
            place.temperature = event->temperature->in<Celsius>();
        }
        result.push_back(place);
    }
    return result;
}

bool belongs(Against against, const Place& place) {
    switch (against) {
        case Against::temperature_rising:
            return place.direction > 0;
        case Against::temperature_falling:
            return place.direction < 0;
        default:
            return true;
    }
}

double value(Against against, const Place& place) {
    return against == Against::time_since_drive ? place.since_s : place.temperature;
}

std::string finding(const EventPattern& pattern) {
    const bool of_time = pattern.against == Against::time_since_drive;
    std::string where = of_time ? fmt::format("{:.1f} min after drive began", pattern.centre / 60.0)
                                : fmt::format("near {:.1f} degC", pattern.centre);
    if (pattern.against == Against::temperature_rising) {
        where += " on the way up";
    } else if (pattern.against == Against::temperature_falling) {
        where += " on the way down";
    }
    return fmt::format(
        "{} of {} events {}, where {:.1f} % of the watched time was spent: by chance at most "
        "{:.2g} (binomial tail, times the windows tried)",
        pattern.inside, pattern.all, where, 100.0 * pattern.exposure, pattern.by_chance);
}

}  // namespace

std::optional<EventPattern> pattern_of(std::span<const SoakEvent> events,
                                       std::span<const TemperatureLogged> log, double most) {
    if (log.size() < 2) {
        return std::nullopt;
    }
    const std::vector<Place> places = places_of(log);
    const std::vector<Place> occasions = placed(events, log, places);
    const int all = static_cast<int>(occasions.size());
    if (all < least_events) {
        return std::nullopt;
    }
    double watched = 0.0;
    int begun = 0;
    for (std::size_t i = 0; i < places.size(); ++i) {
        watched += places[i].weight;
        begun += i == 0 || places[i].since_s < places[i - 1].since_s ? 1 : 0;
    }
    std::vector<Against> axes{Against::temperature_rising, Against::temperature_falling,
                              Against::temperature};
    if (begun >= 2) {
        axes.push_back(Against::time_since_drive);
    }
    int tried = 0;
    std::optional<EventPattern> best;
    for (const Against against : axes) {
        const bool of_time = against == Against::time_since_drive;
        for (const double width : of_time ? spans_s : degrees) {
            for (const Place& start : occasions) {
                if (!belongs(against, start)) {
                    continue;
                }
                ++tried;
                EventPattern pattern;
                pattern.against = against;
                pattern.low = value(against, start);
                pattern.high = pattern.low + width;
                pattern.all = all;
                const auto within = [&](const Place& place) {
                    const double v = value(against, place);
                    return belongs(against, place) && v >= pattern.low && v <= pattern.high;
                };
                for (const Place& place : occasions) {
                    if (within(place)) {
                        ++pattern.inside;
                        pattern.centre += value(against, place);
                    }
                }
                pattern.centre /= pattern.inside;
                double spent = 0.0;
                for (const Place& place : places) {
                    spent += within(place) ? place.weight : 0.0;
                }
                pattern.exposure = spent / watched;
                pattern.by_chance = tail(pattern.inside - 1, all - 1, pattern.exposure);
                if (pattern.inside >= least_events &&
                    (!best || pattern.by_chance < best->by_chance)) {
                    best = pattern;
                }
            }
        }
    }
    if (!best) {
        return std::nullopt;
    }
    best->by_chance = std::min(1.0, best->by_chance * tried);
    if (best->by_chance > most) {
        return std::nullopt;
    }
    best->finding = finding(*best);
    return best;
}

}  // namespace afterload::analysis
