#include "analysis/soak/reaction.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

constexpr double an_hour_s = 3600.0;
constexpr double slips_within_s = 600.0;

bool of_the_timeline(const WatchEvent& event) {
    return !event.timeline_intact;
}

std::string in_words(const WatchEvent& event) {
    const std::string where =
        event.channel == 0 ? "all channels" : fmt::format("channel {}", event.channel);
    return fmt::format("{} in {}, {:.3g} {}", name(event.kind), where, event.size,
                       size_unit(event.kind));
}

// Which limit an event is held against; nothing for those that are only flagged.
std::optional<Measured> measured(const WatchEvent& event) {
    switch (event.kind) {
        case WatchEvent::Kind::level:
            return Measured{SoakQuantity::level_step, event.channel, std::abs(event.size)};
        case WatchEvent::Kind::dropout:
            return Measured{SoakQuantity::dropout, event.channel, event.duration.in<Seconds>()};
        case WatchEvent::Kind::offset:
            return Measured{SoakQuantity::offset_step, event.channel, std::abs(event.size)};
        default:
            return std::nullopt;
    }
}

}  // namespace

std::string_view name(Reaction reaction) {
    switch (reaction) {
        case Reaction::none:
            return "none";
        case Reaction::flag:
            return "flag";
        case Reaction::hold:
            return "hold";
        case Reaction::kill:
            return "kill";
    }
    return "";
}

std::string_view name(Decision::Kind kind) {
    switch (kind) {
        case Decision::Kind::note:
            return "note";
        case Decision::Kind::flag:
            return "flag";
        case Decision::Kind::drive_off:
            return "drive_off";
        case Decision::Kind::mains_off:
            return "mains_off";
        case Decision::Kind::check_rig:
            return "check_rig";
        case Decision::Kind::resume:
            return "resume";
        case Decision::Kind::end:
            return "end";
        case Decision::Kind::allow_restart:
            return "allow_restart";
    }
    return "";
}

std::string_view name(Reactions::State state) {
    switch (state) {
        case Reactions::State::driving:
            return "driving";
        case Reactions::State::held:
            return "held";
        case Reactions::State::checking:
            return "checking";
        case Reactions::State::stopped:
            return "stopped";
        case Reactions::State::killed:
            return "killed";
    }
    return "";
}

std::string_view name(BenchNews::Kind kind) {
    using Kind = BenchNews::Kind;
    switch (kind) {
        case Kind::capture_lost:
            return "capture_lost";
        case Kind::source_lost:
            return "source_lost";
        case Kind::drive_not_off:
            return "drive_not_off";
        case Kind::load_open:
            return "load_open";
        case Kind::load_hot:
            return "load_hot";
        case Kind::smoke:
            return "smoke";
        case Kind::ground_fault:
            return "ground_fault";
        case Kind::contactor_open:
            return "contactor_open";
        case Kind::guardian_lost:
            return "guardian_lost";
        case Kind::unit_removed:
            return "unit_removed";
        case Kind::disk_full:
            return "disk_full";
        case Kind::update_pending:
            return "update_pending";
        case Kind::program_late:
            return "program_late";
        case Kind::interrupted:
            return "interrupted";
        case Kind::network_lost:
            return "network_lost";
        case Kind::wall_clock_jumped:
            return "wall_clock_jumped";
    }
    return "";
}

Reactions::Reactions(ReactionSettings settings) : settings_{std::move(settings)} {}

std::vector<Decision> Reactions::observe(Seconds time, const Observation& observation) {
    now_s_ = std::max(now_s_, time.in<Seconds>());
    Decisions decisions;
    check_deadlines(decisions);
    std::visit([&](const auto& one) { see(one, decisions); }, observation);
    return decisions;
}

std::optional<std::string> Reactions::refusal() const {
    if (state_ == State::killed && cause_.empty()) {
        return fmt::format("stopped for safety: {}; a person must first enter the cause", why_);
    }
    if (state_ == State::driving || state_ == State::held || state_ == State::checking) {
        return "a soak is going on";
    }
    return std::nullopt;
}

void Reactions::tell(Decision::Kind kind, Reaction reaction, const std::string& because,
                     Decisions& decisions, std::uint64_t event) const {
    decisions.push_back({kind, reaction, Seconds{now_s_}, because, event});
}

void Reactions::stop(const std::string& because, Decisions& decisions) {
    if (state_ == State::stopped || state_ == State::killed) {
        return;
    }
    if (state_ == State::driving) {
        tell(Decision::Kind::drive_off, Reaction::hold, because, decisions);
        off_by_s_ = now_s_ + settings_.off_within.in<Seconds>();
    }
    checked_by_s_.reset();
    state_ = State::stopped;
    why_ = because;
    tell(Decision::Kind::end, Reaction::none, because, decisions);
}

void Reactions::react(Reaction reaction, const std::string& because, Decisions& decisions,
                      std::uint64_t event) {
    switch (reaction) {
        case Reaction::none:
            return;
        case Reaction::flag:
            tell(Decision::Kind::flag, reaction, because, decisions, event);
            return;
        case Reaction::hold:
            if (state_ != State::driving) {
                tell(Decision::Kind::flag, reaction, because, decisions, event);
                return;
            }
            tell(Decision::Kind::drive_off, reaction, because, decisions, event);
            off_by_s_ = now_s_ + settings_.off_within.in<Seconds>();
            why_ = because;
            if (retries_ >= settings_.retries) {
                state_ = State::stopped;
                tell(Decision::Kind::end, reaction,
                     because + "; it was held before, so it is not tried again", decisions, event);
                return;
            }
            state_ = State::held;
            return;
        case Reaction::kill:
            if (state_ == State::killed) {
                tell(Decision::Kind::note, reaction, because, decisions, event);
                return;
            }
            tell(Decision::Kind::drive_off, reaction, because, decisions, event);
            tell(Decision::Kind::mains_off, reaction, because, decisions, event);
            if (state_ != State::stopped) {
                tell(Decision::Kind::end, reaction, because, decisions, event);
            }
            state_ = State::killed;
            why_ = because;
            cause_.clear();
            off_by_s_.reset();
            checked_by_s_.reset();
            return;
    }
}

Reaction Reactions::reaction_to(const Measured& measured, std::string& because) const {
    const auto found = settings_.limits.find(measured.quantity);
    if (found == settings_.limits.end()) {
        return Reaction::none;
    }
    const SoakLimit& limit = found->second;
    const auto reached = [&](const std::optional<double>& at) {
        // What is no number is no good sign.
        return at && !(measured.value < *at);
    };
    const Reaction reaction = reached(limit.kill)   ? Reaction::kill
                              : reached(limit.hold) ? Reaction::hold
                              : reached(limit.flag) ? Reaction::flag
                                                    : Reaction::none;
    if (reaction != Reaction::none) {
        const double at = reaction == Reaction::kill   ? *limit.kill
                          : reaction == Reaction::hold ? *limit.hold
                                                       : *limit.flag;
        const std::string where =
            measured.channel == 0 ? "" : fmt::format(" of channel {}", measured.channel);
        because = fmt::format("{}{} is {:.3g} {}, {} from {:.3g}", name(measured.quantity), where,
                              measured.value, unit(measured.quantity), name(reaction), at);
    }
    return reaction;
}

void Reactions::see(const Measured& measured, Decisions& decisions) {
    std::string because;
    const Reaction reaction = reaction_to(measured, because);
    Reaction& standing = standing_[{measured.quantity, measured.channel}];
    // Told once, and again when it is worse; a hold and a kill are never left out.
    if (reaction > standing || reaction >= Reaction::hold) {
        react(reaction, because, decisions);
    }
    standing = reaction;
}

void Reactions::see(const SoakEvent& event, Decisions& decisions) {
    if (event.withdrawn) {
        told_.erase(event.id);
        dropouts_s_.erase(event.id);
        tell(Decision::Kind::note, Reaction::none, in_words(event.seen) + " was something else",
             decisions, event.id);
        return;
    }
    const bool is_new = told_.find(event.id) == told_.end();
    Reaction& told = told_[event.id];
    Reaction reaction = Reaction::flag;
    std::string because = in_words(event.seen);
    if (of_the_timeline(event.seen)) {
        if (is_new) {
            slips_s_.push_back(now_s_);
        }
        std::erase_if(slips_s_, [&](double at) { return now_s_ - at > slips_within_s; });
        const bool many = static_cast<int>(slips_s_.size()) >= settings_.slips_to_hold;
        if (event.seen.kind == WatchEvent::Kind::frozen || many) {
            reaction = Reaction::hold;
        }
    } else if (event.seen.kind == WatchEvent::Kind::clipping) {
        // The converter's end: nothing that is read there is true.
        reaction = Reaction::hold;
    } else {
        if (is_new) {
            events_s_.push_back(now_s_);
            std::erase_if(events_s_, [&](double at) { return now_s_ - at > an_hour_s; });
        }
        const auto held_against = measured(event.seen);
        std::string limit;
        if (held_against) {
            reaction = std::max(reaction, reaction_to(*held_against, limit));
        }
        std::string often;
        const Reaction by_number = reaction_to(
            {SoakQuantity::events_an_hour, 0, static_cast<double>(events_s_.size())}, often);
        if (by_number > reaction) {
            reaction = by_number;
            limit = often;
        }
        because += limit.empty() ? "" : ": " + limit;
    }
    if (event.seen.kind == WatchEvent::Kind::dropout && event.lasts) {
        dropouts_s_.emplace(event.id, now_s_ - event.seen.duration.in<Seconds>());
    } else {
        dropouts_s_.erase(event.id);
    }
    if (reaction > told) {
        told = reaction;
        react(reaction, because, decisions, event.id);
    }
    if (!event.lasts) {
        // Its number never comes again.
        told_.erase(event.id);
    }
}

void Reactions::see(const TemperatureFinding& finding, Decisions& decisions) {
    switch (finding.weight) {
        case TemperatureFinding::Weight::note:
            tell(Decision::Kind::note, Reaction::none, finding.what, decisions);
            return;
        case TemperatureFinding::Weight::flag:
            react(Reaction::flag, finding.what, decisions);
            return;
        case TemperatureFinding::Weight::over_temperature:
            react(Reaction::kill, finding.what, decisions);
            return;
    }
}

void Reactions::see(const BenchNews& news, Decisions& decisions) {
    using Kind = BenchNews::Kind;
    const std::string because = news.what.empty()
                                    ? std::string{name(news.kind)}
                                    : fmt::format("{}: {}", name(news.kind), news.what);
    switch (news.kind) {
        case Kind::drive_not_off:
        case Kind::load_open:
        case Kind::load_hot:
        case Kind::smoke:
        case Kind::ground_fault:
        case Kind::contactor_open:
        case Kind::guardian_lost:
            react(Reaction::kill, because, decisions);
            return;
        case Kind::capture_lost:
        case Kind::source_lost:
        case Kind::program_late:
            react(Reaction::hold, because, decisions);
            return;
        case Kind::unit_removed:
        case Kind::disk_full:
        case Kind::interrupted:
            stop(because, decisions);
            return;
        case Kind::update_pending:
            react(Reaction::flag, because, decisions);
            return;
        case Kind::network_lost:
        case Kind::wall_clock_jumped:
            tell(Decision::Kind::note, Reaction::none, because, decisions);
            return;
    }
}

void Reactions::see(const DriveIsOff& /*off*/, Decisions& decisions) {
    off_by_s_.reset();
    if (state_ == State::held) {
        state_ = State::checking;
        checked_by_s_ = now_s_ + settings_.check_within.in<Seconds>();
        tell(Decision::Kind::check_rig, Reaction::hold, why_, decisions);
    }
}

void Reactions::see(const RigChecked& checked, Decisions& decisions) {
    if (state_ != State::checking) {
        return;
    }
    checked_by_s_.reset();
    if (!checked.passed) {
        stop(fmt::format("{}; the rig check that followed failed: {}", why_, checked.what),
             decisions);
        return;
    }
    ++retries_;
    state_ = State::driving;
    // What was told before is told again if it is still there.
    standing_.clear();
    told_.clear();
    dropouts_s_.clear();
    tell(Decision::Kind::resume, Reaction::hold,
         fmt::format("the rig check passed; tried again ({} of {})", retries_, settings_.retries),
         decisions);
}

void Reactions::see(const CauseEntered& entered, Decisions& decisions) {
    const bool says_something = std::any_of(entered.cause.begin(), entered.cause.end(),
                                            [](unsigned char c) { return c > ' '; });
    if (state_ != State::killed || !says_something) {
        tell(Decision::Kind::note, Reaction::none,
             state_ == State::killed ? "an empty cause is none" : "a cause was entered", decisions);
        return;
    }
    cause_ = entered.cause;
    tell(Decision::Kind::allow_restart, Reaction::none,
         entered.who.empty() ? entered.cause : fmt::format("{}: {}", entered.who, entered.cause),
         decisions);
}

void Reactions::see(const PersonStops& stops, Decisions& decisions) {
    stop(stops.who.empty() ? "stopped by a person" : "stopped by " + stops.who, decisions);
}

void Reactions::see(const TimeIsUp& /*up*/, Decisions& decisions) {
    stop("its time is up", decisions);
}

void Reactions::see(const Tick& /*tick*/, Decisions& decisions) {
    // A dropout that goes on and on is not told anew by the watch.
    std::vector<Measured> lasting;
    for (const auto& [id, since_s] : dropouts_s_) {
        lasting.push_back({SoakQuantity::dropout, 0, now_s_ - since_s});
    }
    for (const Measured& one : lasting) {
        std::string because;
        const Reaction reaction = reaction_to(one, because);
        if (reaction >= Reaction::hold && state_ == State::driving) {
            react(reaction, because, decisions);
        }
    }
}

void Reactions::check_deadlines(Decisions& decisions) {
    if (off_by_s_ && now_s_ > *off_by_s_) {
        off_by_s_.reset();
        react(Reaction::kill, "the drive was told to be off and did not say so in time", decisions);
    }
    if (checked_by_s_ && now_s_ > *checked_by_s_) {
        checked_by_s_.reset();
        stop("the rig check did not end in time", decisions);
    }
}

}  // namespace afterload::analysis
