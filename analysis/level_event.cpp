#include "analysis/level_change.hpp"
#include "analysis/median.hpp"
#include "analysis/phasors.hpp"
#include "analysis/soundness.hpp"
#include "analysis/timeline.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double least_change = 0.034;  // 0.29 dB

// Level of the tone in whole cycles that follow each other closely: DC and harmonics do not show.
struct LevelHistory {
    std::vector<double> ratio;  // re the median
    double piece = 0.0;         // samples
    double hop = 0.0;

    // Middle of piece b in samples.
    [[nodiscard]] double time(std::size_t b) const {
        return static_cast<double>(b) * hop + 0.5 * piece;
    }
};

std::optional<LevelHistory> level_history(WaveformView record, double omega) {
    const double rate = record.rate.frequency().in<Hertz>();
    const double cycles = std::max(1.0, std::floor(0.0025 * rate * omega / two_pi));
    const auto piece = static_cast<std::size_t>(std::lround(cycles * two_pi / omega));
    const std::size_t hop = std::max<std::size_t>(1, piece / 4);
    if (piece < 2 || record.volts.size() < 8 * piece) {
        return std::nullopt;
    }
    LevelHistory history;
    history.piece = static_cast<double>(piece);
    history.hop = static_cast<double>(hop);
    for (const auto& z : phasors(record.volts, omega, std::vector<double>(piece, 1.0), hop)) {
        history.ratio.push_back(std::abs(z));
    }
    const double median = median_of(history.ratio);
    if (!(median > 0.0)) {
        return std::nullopt;
    }
    std::vector<double> distances;
    for (double& r : history.ratio) {
        r /= median;
        distances.push_back(std::abs(r - 1.0));
    }
    // Noise and hum alone move the level by this much: there is no tone to watch.
    if (1.4826 * median_of(std::move(distances)) > least_change / 4.0) {
        return std::nullopt;
    }
    return history;
}

std::vector<LevelEvent> events_of(WaveformView record, double omega) {
    std::vector<LevelEvent> events;
    const auto history = level_history(record, omega);
    if (!history) {
        return events;
    }
    const double rate = record.rate.frequency().in<Hertz>();
    const std::vector<double>& r = history->ratio;
    const double period = two_pi / omega;
    const double least_length = std::max(0.005 * rate, period) - 1.5 * history->hop;
    const auto change = [&](std::size_t b) { return r[b] - 1.0; };
    const auto apart = static_cast<std::ptrdiff_t>(std::ceil(history->piece / history->hop)) + 1;
    const auto at = [&](std::ptrdiff_t b) {
        return r[static_cast<std::size_t>(
            std::clamp<std::ptrdiff_t>(b, 0, static_cast<std::ptrdiff_t>(r.size()) - 1))];
    };

    for (std::size_t b = 0; b < r.size();) {
        if (std::abs(change(b)) < 0.5 * least_change) {
            ++b;
            continue;
        }
        const std::size_t first = b;
        double extreme = 0.0;
        for (; b < r.size() && std::abs(change(b)) >= 0.5 * least_change &&
               std::signbit(change(b)) == std::signbit(change(first));
             ++b) {
            extreme = std::abs(change(b)) > std::abs(extreme) ? change(b) : extreme;
        }
        // Its edges: where half the change is reached, which short pieces do not move.
        std::size_t from = first;
        std::size_t to = b - 1;
        while (from < to && std::abs(change(from)) < 0.5 * std::abs(extreme)) {
            ++from;
        }
        while (to > from && std::abs(change(to)) < 0.5 * std::abs(extreme)) {
            --to;
        }
        const double length = history->time(to) - history->time(from) + history->hop;
        if (std::abs(extreme) < least_change || length < least_length) {
            continue;
        }
        std::vector<double> inside(r.begin() + static_cast<std::ptrdiff_t>(from),
                                   r.begin() + static_cast<std::ptrdiff_t>(to) + 1);
        // An event hardly longer than a piece reaches its depth for a moment only.
        const bool brief = static_cast<double>(inside.size()) * history->hop < 3.0 * history->piece;
        const double level = brief ? 1.0 + extreme : median_of(std::move(inside));
        const bool at_start = first == 0;
        const bool at_end = b == r.size();
        // Steps come at once: a piece's length inside the edge the change is there, outside it is
        // not. A level that settles or drifts is another matter.
        const auto edge = static_cast<std::ptrdiff_t>(at_start ? to : from);
        const std::ptrdiff_t inwards = at_start ? -1 : 1;
        double reached = 0.0;
        for (std::ptrdiff_t i = 0; i <= apart; ++i) {
            reached = std::max(reached, std::abs(at(edge + inwards * i) - 1.0));
        }
        if (reached - std::abs(at(edge - inwards * apart) - 1.0) < 0.5 * std::abs(extreme)) {
            continue;
        }
        LevelEvent event;
        const double end = static_cast<double>(record.volts.size());
        if (at_start) {
            // What came first is what the level moved away from.
            const double start = history->time(to);
            event.start = Seconds{start / rate};
            event.length = Seconds{(end - start) / rate};
            event.change_db = -level_change_db(level);
        } else {
            const double start = history->time(from) - 0.5 * history->hop;
            event.start = Seconds{start / rate};
            event.length = Seconds{(at_end ? end - start : length) / rate};
            event.change_db = level_change_db(level);
        }
        events.push_back(event);
    }

    // Where the timeline slipped two phases meet and the level seems to dip: no event.
    if (const auto tone = tone_history(record.volts, omega, rate); tone && !events.empty()) {
        for (const Slip& slip : slips(record.volts, omega, *tone)) {
            const double place = static_cast<double>(slip.at) / rate;
            const double width = 2.0 * static_cast<double>(tone->piece) / rate;
            std::erase_if(events, [&](const LevelEvent& e) {
                const double start = e.start.in<Seconds>();
                const double stop = start + e.length.in<Seconds>();
                return start > place - width && stop < place + width;
            });
        }
    }
    return events;
}

}  // namespace

std::vector<LevelEvent> level_events(const std::vector<WaveformView>& channels, Hertz nominal) {
    std::vector<std::vector<LevelEvent>> each;
    for (std::size_t c = 0; c < channels.size(); ++c) {
        const double omega = two_pi * (nominal / channels[c].rate.frequency());
        each.push_back(omega > 0.0 && omega < std::numbers::pi ? events_of(channels[c], omega)
                                                               : std::vector<LevelEvent>{});
        for (LevelEvent& event : each.back()) {
            event.channel = static_cast<int>(c) + 1;
        }
    }
    std::vector<LevelEvent> all;
    for (std::size_t c = 0; c < each.size(); ++c) {
        for (const LevelEvent& event : each[c]) {
            if (event.channel == 0) {
                continue;  // already told with an earlier channel
            }
            std::vector<LevelEvent*> together;
            for (std::size_t other = 0; other < each.size(); ++other) {
                for (LevelEvent& candidate : each[other]) {
                    const double apart = std::abs((candidate.start - event.start).in<Seconds>());
                    if (candidate.channel != 0 && apart < 0.005 &&
                        std::signbit(candidate.change_db) == std::signbit(event.change_db)) {
                        together.push_back(&candidate);
                        break;
                    }
                }
            }
            LevelEvent told = event;
            if (channels.size() > 1 && together.size() == channels.size()) {
                told.channel = 0;
                for (LevelEvent* candidate : together) {
                    told.change_db = std::abs(candidate->change_db) > std::abs(told.change_db)
                                         ? candidate->change_db
                                         : told.change_db;
                    told.length = std::max(told.length, candidate->length);
                    candidate->channel = 0;
                }
            }
            all.push_back(told);
        }
    }
    std::stable_sort(all.begin(), all.end(),
                     [](const LevelEvent& a, const LevelEvent& b) { return a.start < b.start; });
    return all;
}

}  // namespace afterload::analysis
