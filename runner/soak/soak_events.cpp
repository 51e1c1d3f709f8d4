#include "runner/soak/soak_events.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace afterload::runner {

namespace {

constexpr std::string_view taken_back = "taken back";
constexpr Seconds mains_known_after{2.0};
constexpr Seconds beside{0.05};
constexpr std::size_t still_looked_at = 8;  // of the last events
// A pattern clears a lead only where chance is as good as ruled out: soaks are many.
constexpr double most_by_chance = 1e-3;

Blame blame_of(analysis::WatchEvent::Blame blame) {
    switch (blame) {
        case analysis::WatchEvent::Blame::unit:
            return Blame::unit;
        case analysis::WatchEvent::Blame::rig:
            return Blame::rig;
        case analysis::WatchEvent::Blame::unit_or_lead:
            return Blame::unit_or_lead;
        case analysis::WatchEvent::Blame::unit_or_mains:
            return Blame::unit_or_mains;
    }
    return Blame::unit_or_lead;
}

}  // namespace

SoakEvents::SoakEvents(std::vector<RunEvent>& list, Seconds run_base)
    : list_{list}, run_base_{run_base} {}

SoakEvents::Seen SoakEvents::see(const analysis::SoakEvent& event, Seconds at) {
    const auto known = places_.find(event.id);
    const bool fresh = known == places_.end();
    if (fresh) {
        places_[event.id] = watched_.size();
        list_.emplace_back();
        watched_.push_back({event, {}, static_cast<int>(list_.size()), false});
    }
    Watched& watched = watched_[fresh ? watched_.size() - 1 : known->second];
    watched.event = event;
    RunEvent& entry = list_[static_cast<std::size_t>(watched.number) - 1];
    entry.kind =
        event.withdrawn ? std::string{taken_back} : std::string{analysis::name(event.seen.kind)};
    entry.channel = event.seen.channel;
    entry.since_start = run_base_ + at;
    entry.size = event.seen.size;
    entry.unit = analysis::size_unit(event.seen.kind);
    entry.timeline_intact = event.seen.timeline_intact;
    entry.duration = event.seen.duration;
    if (event.temperature) {
        entry.heat_sink = event.temperature->in<Celsius>();
    }
    blame(watched);
    const Seen seen{watched.number, fresh};
    look_at_slips();
    return seen;
}

bool SoakEvents::slipped_beside(const analysis::SoakEvent& event) const {
    using Kind = analysis::WatchEvent::Kind;
    const Seconds from = *event.since_start - beside;
    const Seconds to = *event.since_start + event.seen.duration + beside;
    return std::any_of(watched_.begin(), watched_.end(), [&](const Watched& other) {
        const bool slip =
            other.event.seen.kind == Kind::gap || other.event.seen.kind == Kind::repeat;
        return slip && !other.event.withdrawn && from <= *other.event.since_start &&
               *other.event.since_start <= to;
    });
}

void SoakEvents::look_at_slips() {
    using Kind = analysis::WatchEvent::Kind;
    const std::size_t first = watched_.size() - std::min(watched_.size(), still_looked_at);
    for (std::size_t i = first; i < watched_.size(); ++i) {
        Watched& watched = watched_[i];
        const auto& event = watched.event;
        const bool change = event.seen.kind == Kind::dropout || event.seen.kind == Kind::level;
        if (change && event.seen.channel == 0 && !event.lasts && !event.withdrawn &&
            slipped_beside(event) != watched.facts.timeline_moved) {
            watched.facts.timeline_moved = !watched.facts.timeline_moved;
            blame(watched);
        }
    }
}

int SoakEvents::add(RunEvent event, Seconds at) {
    event.since_start = run_base_ + at;
    list_.push_back(std::move(event));
    return static_cast<int>(list_.size());
}

int SoakEvents::number_of(std::uint64_t id) const {
    const auto known = places_.find(id);
    return known == places_.end() ? 0 : watched_[known->second].number;
}

void SoakEvents::blame(Watched& watched) {
    const analysis::Blamed blamed = analysis::blamed(watched.event.seen, watched.facts);
    RunEvent& entry = list_[static_cast<std::size_t>(watched.number) - 1];
    entry.blame = blame_of(blamed.blame);
    entry.note = blamed.because;
}

void SoakEvents::look_at_mains(const MainsLog& log, Seconds now, bool unit_removed) {
    for (auto watched = watched_.rbegin(); watched != watched_.rend(); ++watched) {
        const Seconds at = *watched->event.since_start;
        if (now - at > Seconds{10.0}) {
            break;  // the log does not reach further back with any use
        }
        if (watched->facts_known || now - at < mains_known_after) {
            continue;
        }
        watched->facts_known = true;
        const auto steady = log.steady_at(at);
        watched->facts.mains_watched = steady.has_value();
        watched->facts.mains_steady = steady.value_or(false);
        watched->facts.unit_removed = unit_removed;
        blame(*watched);
    }
}

void SoakEvents::rig_checked(bool passed, Seconds at) {
    // It shows that the card records and that nothing comes in that is not driven. Of hum, noise
    // and distortion that the leads may bring it says nothing.
    for (Watched& watched : watched_) {
        const auto kind = watched.event.seen.kind;
        const bool cleared = kind == analysis::WatchEvent::Kind::level ||
                             kind == analysis::WatchEvent::Kind::dropout;
        if (cleared && *watched.event.since_start <= at) {
            watched.facts.rig_check_passed = passed;
            blame(watched);
        }
    }
}

std::vector<std::string> SoakEvents::find_patterns(
    const std::vector<analysis::TemperatureLogged>& log) {
    std::vector<std::string> found;
    for (int channel = 0; channel <= 2; ++channel) {
        std::vector<analysis::SoakEvent> events;
        for (const Watched& watched : watched_) {
            if (watched.event.seen.channel == channel && watched.event.seen.timeline_intact &&
                !watched.event.withdrawn) {
                events.push_back(watched.event);
            }
        }
        const auto pattern = analysis::pattern_of(events, log, most_by_chance);
        if (!pattern) {
            continue;
        }
        found.push_back(fmt::format("{}: {}",
                                    channel == 0   ? "both channels"
                                    : channel == 1 ? "left"
                                                   : "right",
                                    pattern->finding));
        if (pattern->against == analysis::EventPattern::Against::time_since_drive) {
            continue;
        }
        for (Watched& watched : watched_) {
            const auto& temperature = watched.event.temperature;
            if (watched.event.seen.channel == channel && temperature &&
                temperature->in<Celsius>() >= pattern->low - 0.5 &&
                temperature->in<Celsius>() <= pattern->high + 0.5) {
                watched.facts.repeats_at_temperature = true;
                blame(watched);
            }
        }
    }
    return found;
}

void SoakEvents::tidy(std::vector<SoakDecision>& decisions) {
    std::map<int, int> now;
    std::vector<RunEvent> kept;
    for (std::size_t i = 0; i < list_.size(); ++i) {
        if (list_[i].kind != taken_back) {
            kept.push_back(std::move(list_[i]));
            now[static_cast<int>(i) + 1] = static_cast<int>(kept.size());
        }
    }
    list_ = std::move(kept);
    for (SoakDecision& decision : decisions) {
        const auto found = now.find(decision.event);
        decision.event = found == now.end() ? 0 : found->second;
    }
    watched_.clear();
    places_.clear();
}

}  // namespace afterload::runner
