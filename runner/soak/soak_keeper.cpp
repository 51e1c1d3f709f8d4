#include "runner/soak/soak_keeper.hpp"

#include "runner/wall_clock.hpp"

#include <fmt/format.h>

#include <utility>

namespace afterload::runner {

namespace {

constexpr std::size_t most_decisions = 2000;

Json event_line(const RunEvent& event, int number) {
    Json line;
    line["event"] = number;
    line["class"] = event.kind;
    line["channel"] = event.channel;
    line["since_start_s"] = event.since_start.in<Seconds>();
    line["duration_s"] = event.duration.in<Seconds>();
    line["size"] = event.size;
    line["unit"] = event.unit;
    line["timeline_intact"] = event.timeline_intact;
    line["blame"] = name(event.blame);
    line["note"] = event.note;
    return line;
}

}  // namespace

SoakKeeper::SoakKeeper(const SoakAtWork& work, Seconds base)
    : document_{work.document},
      index_{work.result},
      work_{work},
      base_{base},
      list_{result().events},
      events_{list_, result().started} {
    if (result().soak) {
        trends_.go_on_from(result().soak->trends);
        watched_before_ = result().soak->watched;
        records_ = static_cast<int>(result().records.size());
    }
}

RunResult<void> SoakKeeper::begin(std::vector<std::string> not_watched) {
    const sequences::Soak& soak = *work_.step.soak;
    SoakResult& kept = result().soak ? *result().soak : result().soak.emplace();
    kept.level = text(soak.level);
    kept.signal = sequences::name(soak.signal);
    kept.planned = soak.duration;
    kept.state = "running";
    kept.why.clear();
    kept.killed = false;
    kept.not_watched = std::move(not_watched);
    for (SoakSegment& before : kept.segments) {
        if (before.end == "running") {
            before.end = "stopped";
            before.why = "interrupted: power, machine or program went away";
        }
    }
    SoakSegment segment;
    segment.started = wall_clock_stamp();
    segment.from = base_;
    segment.to = base_;
    segment.end = "running";
    segment.consent = work_.consent;
    kept.segments.push_back(std::move(segment));
    auto journal = SoakJournal::open(work_.folder, fmt::format("soak-{}.ndjson", index_ + 1));
    if (!journal) {
        return trouble(Trouble::Kind::disk, journal.error());
    }
    journal_ = *std::move(journal);
    Json line;
    line["soak"] = work_.step.name;
    line["from_s"] = base_.in<Seconds>();
    line["planned_s"] = soak.duration.in<Seconds>();
    this->journal(line);
    return keep();
}

void SoakKeeper::journal(const Json& line) {
    if (const auto written = journal_->add(line); !written && trouble_.empty()) {
        trouble_ = written.error();
    }
}

void SoakKeeper::stream_begins(const SoakStream& stream) {
    capture_.emplace(stream.rate(), stream.bits(), stream.calibration());
}

void SoakKeeper::stream_ends() {
    if (capture_) {
        store(capture_->finish());
        capture_.reset();
    }
}

void SoakKeeper::add_block(const SoakStream& stream) {
    capture_->add(stream.block(), stream.block_from());
    store(capture_->take());
    watched_ = stream.watched();
}

void SoakKeeper::store(std::vector<CutOut> cuts) {
    for (CutOut& cut : cuts) {
        if (records_ >= most_event_records) {
            if (records_++ == most_event_records) {
                note(fmt::format("{} records of events are kept; of later events, their figures",
                                 most_event_records));
            }
            continue;
        }
        ++records_;
        const auto stored = work_.folder.store(
            fmt::format("{:03}-event-{}", index_ + 1, cut.events.front()), cut.record);
        if (!stored) {
            trouble_ = trouble_.empty() ? stored.error() : trouble_;
            continue;
        }
        StoredRecord entry;
        entry.path = stored->path;
        entry.sha256 = stored->sha256;
        entry.rate = cut.record.rate;
        entry.bits = cut.record.bits;
        entry.driven.since_start = result().started + cut.from;
        for (const ChannelCalibration& one : cut.record.calibration) {
            entry.full_scale.push_back(one.full_scale);
        }
        for (const int event : cut.events) {
            events_.at(event).record = entry.path;
        }
        result().records.push_back(std::move(entry));
    }
}

void SoakKeeper::told(const analysis::SoakEvent& event, int fresh, Seconds at) {
    const int number = events_.number_of(event.id);
    if (number == 0) {
        return;
    }
    if (fresh != 0 && capture_) {
        capture_->want(fresh, at);
    }
    Json line = event_line(events_.at(number), number);
    line["lasts"] = event.lasts;
    journal(line);
}

int SoakKeeper::decided(const SoakPending& pending, Seconds at) {
    SoakResult& kept = *result().soak;
    SoakDecision decision;
    decision.at = pending.decision.time;
    decision.what = analysis::name(pending.decision.kind);
    decision.reaction = analysis::name(pending.decision.reaction);
    decision.because = pending.decision.because;
    decision.event = pending.event;
    if (pending.event != 0) {
        RunEvent& event = events_.at(pending.event);
        const bool graver =
            pending.decision.reaction == analysis::Reaction::kill || event.reaction.empty() ||
            (pending.decision.reaction == analysis::Reaction::hold && event.reaction == "flag");
        if (pending.decision.reaction != analysis::Reaction::none && graver) {
            event.reaction = decision.reaction;
        }
        if (capture_ && event.record.empty()) {
            capture_->want(pending.event, at);
        }
    }
    Json line;
    line["decision"] = decision.what;
    line["at_s"] = at.in<Seconds>();
    line["reaction"] = decision.reaction;
    line["because"] = decision.because;
    line["event"] = decision.event;
    journal(line);
    if (kept.decisions.size() < most_decisions) {
        kept.decisions.push_back(std::move(decision));
    }
    return static_cast<int>(kept.decisions.size()) - 1;
}

void SoakKeeper::done(int place, Seconds took, const std::string& what) {
    auto& decisions = result().soak->decisions;
    if (place >= 0 && place < static_cast<int>(decisions.size())) {
        SoakDecision& decision = decisions[static_cast<std::size_t>(place)];
        decision.took = took;
        decision.done = what;
    }
    Json line;
    line["done"] = what;
    line["took_s"] = took.in<Seconds>();
    journal(line);
}

void SoakKeeper::regulated(SoakRegulation moved) {
    Json line;
    line["regulated_db"] = moved.change_db;
    line["at_s"] = moved.at.in<Seconds>();
    line["why"] = moved.why;
    journal(line);
    result().soak->regulations.push_back(std::move(moved));
}

void SoakKeeper::note(const std::string& what) {
    document_.notes.push_back(work_.step.name + ": " + what);
}

RunResult<void> SoakKeeper::minute_over(Seconds at) {
    trends_.close_minute(at - Seconds{30.0});
    SoakResult& kept = *result().soak;
    kept.lasted = at;
    kept.watched = watched_before_ + watched_;
    kept.segments.back().to = at;
    Json line;
    line["minute_s"] = at.in<Seconds>();
    for (const SoakTrend& trend : trends_.all(false)) {
        if (!trend.points.empty() && trend.points.back().at == at - Seconds{30.0}) {
            line[fmt::format("{}{}", trend.quantity,
                             trend.channel == 0   ? ""
                             : trend.channel == 1 ? "_left"
                                                  : "_right")] = trend.points.back().mean;
        }
    }
    auto kept_whole = keep();
    if (kept_whole) {
        journal(line);  // which so never tells of a minute that the run does not hold
    }
    return kept_whole;
}

RunResult<void> SoakKeeper::keep() {
    if (!trouble_.empty()) {
        return trouble(Trouble::Kind::disk, std::exchange(trouble_, {}));
    }
    result().events = list_;
    result().soak->trends = trends_.all(false);
    return work_.keep();
}

RunResult<void> SoakKeeper::finish(const std::vector<analysis::TemperatureLogged>& log, Seconds at,
                                   const std::string& state, const std::string& why) {
    SoakResult& kept = *result().soak;
    for (std::string& pattern : events_.find_patterns(log)) {
        kept.patterns.push_back(std::move(pattern));
    }
    events_.tidy(kept.decisions);
    kept.lasted = at < kept.planned ? at : kept.planned;
    kept.watched = watched_before_ + watched_;
    kept.state = state;
    kept.why = why;
    SoakSegment& segment = kept.segments.back();
    segment.to = at;
    segment.ended = wall_clock_stamp();
    segment.end = state;
    segment.why = why;
    trends_.close_minute(at);
    const auto kept_well = keep();
    kept.trends = trends_.all(true);
    result().events = list_;
    return kept_well;
}

}  // namespace afterload::runner
