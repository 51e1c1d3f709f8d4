#include "analysis/soak/event_book.hpp"

#include "analysis/soak/blame.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

constexpr double together_s = 0.06;
constexpr std::size_t most_entries = 64;

double end_of(const WatchEvent& event) {
    return (event.start + event.duration).in<Seconds>();
}

}  // namespace

EventBook::Entry* EventBook::find(std::uint64_t id) {
    const auto found = std::find_if(entries_.begin(), entries_.end(),
                                    [&](const Entry& entry) { return entry.id == id; });
    return found == entries_.end() ? nullptr : &*found;
}

void EventBook::news(const Entry& entry, bool withdrawn, std::uint64_t of) {
    if (entry.held_back) {
        return;
    }
    if (waiting_.size() >= most_) {
        ++left_out_;
        return;
    }
    SoakEvent event;
    event.id = entry.id;
    event.seen = entry.seen;
    event.seen.blame = blamed(event.seen, {}).blame;
    event.lasts = entry.lasts && !withdrawn;
    event.withdrawn = withdrawn;
    event.part_of = of;
    waiting_.push_back(event);
}

std::uint64_t EventBook::begin(const WatchEvent& seen) {
    // Those that are over stay for a while, for another channel may follow.
    while (entries_.size() >= most_entries) {
        auto over = std::find_if(entries_.begin(), entries_.end(),
                                 [](const Entry& entry) { return !entry.lasts; });
        entries_.erase(over == entries_.end() ? entries_.begin() : over);
    }
    entries_.push_back({++last_, seen, seen.channel, true, 0, !believed(seen)});
    if (!entries_.back().held_back) {
        join(entries_.back());
    }
    return last_;
}

// Makes one of all channels, when `entry` was the last that was missing; else tells it alone.
void EventBook::join(Entry& entry) {
    std::vector<Entry*> same{&entry};
    for (Entry& other : entries_) {
        const bool alike =
            other.joined == 0 && !other.held_back && other.own_channel > 0 &&
            entry.own_channel > 0 && other.seen.kind == entry.seen.kind &&
            std::signbit(other.seen.size) == std::signbit(entry.seen.size) &&
            std::abs((other.seen.start - entry.seen.start).in<Seconds>()) <= together_s;
        if (alike && std::none_of(same.begin(), same.end(), [&](const Entry* one) {
                return one->own_channel == other.own_channel;
            })) {
            same.push_back(&other);
        }
    }
    if (channels_ < 2 || static_cast<int>(same.size()) < channels_) {
        news(entry, false, 0);
        return;
    }
    Entry& first = **std::min_element(same.begin(), same.end(),
                                      [](const Entry* a, const Entry* b) { return a->id < b->id; });
    const std::uint64_t id = first.id;
    for (Entry* one : same) {
        one->joined = id;
        if (one->id != id && one != &entry) {
            news(*one, true, id);
        }
    }
    settle(id);
}

// What all members of a joint event are together, told.
void EventBook::settle(std::uint64_t joined) {
    Entry* const first = find(joined);
    if (first == nullptr) {
        return;
    }
    Entry all = *first;
    all.seen.channel = 0;
    all.lasts = false;
    double end = end_of(first->seen);
    for (const Entry& one : entries_) {
        if (one.joined != joined) {
            continue;
        }
        all.lasts = all.lasts || one.lasts;
        all.seen.start = std::min(all.seen.start, one.seen.start);
        end = std::max(end, end_of(one.seen));
        if (std::abs(one.seen.size) > std::abs(all.seen.size)) {
            all.seen.size = one.seen.size;
        }
    }
    all.seen.duration = Seconds{end} - all.seen.start;
    news(all, false, 0);
}

void EventBook::change(std::uint64_t id, double size, double end_s) {
    if (Entry* const entry = find(id)) {
        entry->seen.size = size;
        entry->seen.duration = Seconds{std::max(0.0, end_s - entry->seen.start.in<Seconds>())};
    }
}

void EventBook::end(std::uint64_t id, double size, double end_s) {
    change(id, size, end_s);
    Entry* const entry = find(id);
    if (entry == nullptr || !entry->lasts) {
        return;
    }
    entry->lasts = false;
    if (entry->joined == 0) {
        news(*entry, false, 0);
        return;
    }
    const std::uint64_t joined = entry->joined;
    const bool all_over = std::none_of(entries_.begin(), entries_.end(), [&](const Entry& one) {
        return one.joined == joined && one.lasts;
    });
    if (all_over) {
        settle(joined);
    }
}

void EventBook::tell(const WatchEvent& seen) {
    const std::uint64_t id = begin(seen);
    end(id, seen.size, end_of(seen));
}

void EventBook::withdraw(std::uint64_t id, std::uint64_t of) {
    Entry* const entry = find(id);
    if (entry == nullptr) {
        return;
    }
    // What is joined is told by the one that stands for all.
    if (entry->joined == 0 || entry->joined == id) {
        news(*entry, true, of);
    }
    entries_.erase(entries_.begin() + (entry - entries_.data()));
}

void EventBook::end_all(double end_s) {
    std::vector<std::uint64_t> open;
    for (const Entry& entry : entries_) {
        if (entry.lasts) {
            open.push_back(entry.id);
        }
    }
    for (const std::uint64_t id : open) {
        end(id, find(id)->seen.size, end_s);
    }
    entries_.clear();
}

bool EventBook::believed(const WatchEvent& seen) const {
    // Of the converter itself everything is believed.
    if (seen.kind == WatchEvent::Kind::clipping || !seen.timeline_intact) {
        return true;
    }
    return std::none_of(disbelieved_.begin(), disbelieved_.end(), [&](const Disbelieved& one) {
        return (one.channel == 0 || seen.channel == 0 || one.channel == seen.channel) &&
               seen.start.in<Seconds>() < one.until_s;
    });
}

void EventBook::disbelieve(int channel, double until_s) {
    for (Disbelieved& one : disbelieved_) {
        if (one.channel == channel) {
            one.until_s = std::max(one.until_s, until_s);
            return;
        }
    }
    disbelieved_.push_back({channel, until_s});
}

void EventBook::withdraw_since(double start_s, std::uint64_t of) {
    std::vector<std::uint64_t> parts;
    for (const Entry& entry : entries_) {
        if (entry.lasts && entry.id != of && entry.seen.timeline_intact &&
            entry.seen.kind != WatchEvent::Kind::clipping &&
            entry.seen.start.in<Seconds>() >= start_s) {
            parts.push_back(entry.id);
        }
    }
    for (const std::uint64_t id : parts) {
        withdraw(id, of);
    }
}

void EventBook::pass(double now_s) {
    const bool over =
        std::any_of(disbelieved_.begin(), disbelieved_.end(),
                    [&](const Disbelieved& one) { return one.until_s + 0.1 < now_s; });
    if (!over) {
        return;
    }
    std::erase_if(disbelieved_, [&](const Disbelieved& one) { return one.until_s + 0.1 < now_s; });
    for (std::size_t i = 0; i < entries_.size(); ++i) {
        if (entries_[i].held_back && entries_[i].lasts && believed(entries_[i].seen)) {
            entries_[i].held_back = false;
            join(entries_[i]);
        }
    }
}

std::vector<SoakEvent> EventBook::take() {
    std::vector<SoakEvent> taken;
    taken.swap(waiting_);
    return taken;
}

}  // namespace afterload::analysis
