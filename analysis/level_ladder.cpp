#include "analysis/level_ladder.hpp"

#include "analysis/level_change.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

constexpr std::size_t most_open = 16;

bool same(double a, double b) {
    return std::abs(level_change_db(a / b)) < 0.5 * LevelLadder::least_change_db;
}

}  // namespace

bool LevelLadder::changed(double ratio) {
    return std::abs(level_change_db(ratio)) >= least_change_db;
}

void LevelLadder::end_last(double time_s, std::vector<WatchEvent>& events) {
    const Left& last = open_.back();
    WatchEvent event;
    event.kind = last.dropout ? WatchEvent::Kind::dropout : WatchEvent::Kind::level;
    event.channel = channel_;
    event.start = Seconds{last.start_s};
    event.duration = Seconds{std::max(0.0, time_s - last.start_s)};
    event.size = last.change_db;
    events.push_back(event);
    open_.pop_back();
}

void LevelLadder::step(double time_s, double before, double after,
                       std::vector<WatchEvent>& events) {
    current_ = before;
    // Back from nothing is the end of the dropout, wherever the level comes back to.
    while (in_dropout() && after > dropout_ratio * open_.back().level) {
        current_ = open_.back().level;
        end_last(time_s, events);
    }
    for (std::size_t i = open_.size(); i-- > 0;) {
        if (same(after, open_[i].level)) {
            while (open_.size() > i) {
                end_last(time_s, events);
            }
            current_ = after;
            return;
        }
    }
    if (!(current_ > 0.0) || !changed(after / current_)) {
        current_ = after;
        return;
    }
    if (open_.size() == most_open) {
        open_.erase(open_.begin());
    }
    open_.push_back(
        {current_, time_s, level_change_db(after / current_), after <= dropout_ratio * current_});
    current_ = after;
}

void LevelLadder::finish(double time_s, std::vector<WatchEvent>& events) {
    while (!open_.empty()) {
        end_last(time_s, events);
    }
}

}  // namespace afterload::analysis
