#include "analysis/soak/tone_section.hpp"

#include "analysis/level_change.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

using Kind = WatchEvent::Kind;

constexpr double changed_over_s = 0.3;  // passed over when the drive changes
constexpr double least_change_db = 0.3;
// What the edges of another event bring is known for such by then.
constexpr double settles_s = 0.08;
constexpr std::size_t most_events = 400;  // of one watch, before it is begun anew
constexpr std::size_t slips_frozen = 3;
constexpr double frozen_shadow_s = 0.25;

double end_of(const WatchEvent& event) {
    return (event.start + event.duration).in<Seconds>();
}

bool same(const WatchEvent& a, const WatchEvent& b) {
    return a.kind == b.kind && a.channel == b.channel &&
           std::abs((a.start - b.start).in<Seconds>()) < 0.03;
}

}  // namespace

ToneSection::ToneSection(const StimulusWatchSettings& settings, std::optional<Hertz> tone,
                         std::int64_t first)
    : settings_{settings},
      tone_{tone},
      rate_{settings.rate.frequency().in<Hertz>()},
      first_{first},
      next_{first},
      channels_(settings.full_scale.size()) {
    make_watch();
}

void ToneSection::make_watch() {
    WatchSettings of_watch;
    of_watch.rate = settings_.rate;
    // The converter's ends are looked at where all samples come by.
    of_watch.full_scale.assign(channels_.size(), VoltsPeak{1e9});
    of_watch.tone = tone_;
    of_watch.mains = settings_.mains;
    watch_.emplace(of_watch);
    first_ = next_;
    seen_so_far_ = 0;
    something_lasted_ = false;
    told_.clear();
    for (Channel& channel : channels_) {
        channel.windows = 0;
    }
}

void ToneSection::advance(WatchedStreams& streams, EventBook& book) {
    const std::int64_t to = streams.record.end();
    if (to <= next_) {
        return;
    }
    std::vector<std::span<const double>> block;
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        block.emplace_back(streams.record.at(c, next_, to));
    }
    watch_->feed(block);
    gather(streams, next_, to);
    next_ = to;
    // The events are told apart by the watch's own channels.
    book.set_channels(1);
    for (const WatchEvent& event : to_tell_) {
        book.begin(event);
    }
    to_tell_.clear();
    tell(book, false);
    if (watch_->events_so_far() > most_events) {
        watch_->finish();
        tell(book, true);
        make_watch();
    }
}

void ToneSection::gather(WatchedStreams& streams, std::int64_t from, std::int64_t to) {
    const std::size_t stimuli = streams.stimulus.channels();
    played_squares_.resize(stimuli, 0.0);
    for (std::size_t s = 0; s < stimuli; ++s) {
        double sum = 0.0;
        for (const double v : streams.stimulus.at(s, from, to)) {
            sum += v * v;
        }
        played_squares_[s] += sum;
    }
    played_count_ += static_cast<double>(to - from);
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        Channel& channel = channels_[c];
        const auto latest = watch_->latest(c);
        if (latest.windows == channel.windows) {
            continue;
        }
        channel.windows = latest.windows;
        channel.levels += latest.level;
        channel.level_squares += latest.level * latest.level;
        channel.distortion += latest.distortion;
        channel.residual += latest.residual;
        channel.hum += latest.hum * latest.hum;
        channel.mean += latest.mean;
        channel.count += 1.0;
    }
}

void ToneSection::read(SoakReading& reading) {
    const auto driven = watch_->summary().driven;
    std::vector<std::optional<Gain>> away;
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        Channel& channel = channels_[c];
        ChannelReading& into = reading.channels[c];
        channel.gain.reset();
        if (channel.count > 0.0) {
            into.residual = VoltsRms{std::sqrt(channel.residual / channel.count)};
            into.offset = VoltsDc{channel.mean / channel.count};
            if (settings_.mains) {
                into.hum = VoltsRms{std::sqrt(channel.hum / channel.count)};
            }
        }
        const double level = channel.count > 0.0 ? channel.levels / channel.count : 0.0;
        const std::size_t s = played_squares_.empty() ? 0 : std::min(c, played_squares_.size() - 1);
        const double played = played_squares_.empty() || !(played_count_ > 0.0)
                                  ? 0.0
                                  : std::sqrt(2.0 * played_squares_[s] / played_count_);
        if (channel.count > 0.0 && c < driven.size() && driven[c] && played > 0.0 && level > 0.0) {
            const double gain = level / played;
            if (!channel.reference) {
                channel.reference = gain;
            }
            channel.gain = gain;
            if (channel.before) {
                const double change = level_change_db(gain / *channel.before);
                if (std::abs(change) >= least_change_db) {
                    WatchEvent event;
                    event.kind = Kind::level;
                    event.channel = static_cast<int>(c) + 1;
                    event.start = Seconds{changed_at_s_};
                    event.duration = Seconds{static_cast<double>(next_) / rate_ - changed_at_s_};
                    event.size = change;
                    to_tell_.push_back(event);
                }
                channel.before.reset();
            }
            into.gain = gain_of(AmplitudeRatio{gain});
            into.gain_away = gain_of(AmplitudeRatio{gain / *channel.reference});
            into.distortion = channel.distortion / channel.count;
            const double variance =
                std::max(0.0, channel.level_squares / channel.count - level * level);
            into.gain_sigma =
                Gain{level_change_db(1.0 + std::sqrt(variance / channel.count) / level)};
        }
        away.push_back(into.gain_away);
        reference_known_ = reference_known_ || channel.reference.has_value();
        const auto windows = channel.windows;
        const auto reference = channel.reference;
        const auto gain = channel.gain;
        const auto before = channel.before;
        channel = {};
        channel.windows = windows;
        channel.reference = reference;
        channel.gain = gain;
        channel.before = before;
    }
    if (away.size() >= 2 && away[0] && away[1]) {
        reading.channel_difference = *away[0] - *away[1];
    }
    std::fill(played_squares_.begin(), played_squares_.end(), 0.0);
    played_count_ = 0.0;
}

void ToneSection::tell(EventBook& book, bool all) {
    const bool lasts = watch_->lasting();
    const std::size_t so_far = watch_->events_so_far();
    // Something was told that waited to be settled, lasts, or is new: else there is nothing to do.
    const bool waiting =
        std::any_of(told_.begin(), told_.end(), [](const Told& told) { return told.lasts; });
    if (!all && so_far == seen_so_far_ && !lasts && !something_lasted_ && !waiting) {
        return;
    }
    if (frozen_ != 0) {
        // Its seams are no noise of the unit.
        book.disbelieve(0, static_cast<double>(next_) / rate_ + frozen_shadow_s);
    }
    const bool fresh = so_far != seen_so_far_;
    seen_so_far_ = so_far;
    const std::vector<WatchEvent> ended = watch_->events();
    const std::vector<WatchEvent> both = all ? ended : watch_->events_and_lasting();
    const double now_s = static_cast<double>(next_ - first_) / rate_;
    something_lasted_ = lasts || fresh;
    std::vector<bool> still(told_.size(), false);
    for (const WatchEvent& event : both) {
        const bool over = std::any_of(ended.begin(), ended.end(), [&](const WatchEvent& one) {
            return same(one, event) && end_of(one) == end_of(event);
        });
        const bool settled = all || now_s - event.start.in<Seconds>() > settles_s;
        something_lasted_ = something_lasted_ || !settled;
        for (std::size_t i = 0; i < still.size(); ++i) {
            still[i] = still[i] || same(told_[i].seen, event);
        }
        tell_one(event, !over, settled, book);
    }
    for (std::size_t i = 0; i < still.size(); ++i) {
        Told& told = told_[i];
        const bool gone = !still[i] && told.lasts && told.id != 0;
        if (gone && all && told.seen.kind == Kind::dropout) {
            // A recording may end in silence; a tone that is played does not come to nothing.
            book.end(told.id, told.seen.size, static_cast<double>(next_) / rate_);
            told.lasts = false;
        } else if (gone) {
            const auto in_all = std::find_if(told_.begin(), told_.end(), [&](const Told& other) {
                return other.seen.channel == 0 && other.seen.kind == told.seen.kind &&
                       std::abs((other.seen.start - told.seen.start).in<Seconds>()) < 0.06;
            });
            book.withdraw(told.id, in_all == told_.end() ? 0 : in_all->id);
            told.lasts = false;
            told.id = 0;
        }
    }
    // A step of the mean looks like a click, and like hum for as long as a window lasts.
    for (Told& told : told_) {
        const bool brief = (told.seen.kind == Kind::noise || told.seen.kind == Kind::hum) &&
                           told.seen.duration.in<Seconds>() < 0.25 && told.id != 0;
        if (!brief) {
            continue;
        }
        const auto step = std::find_if(told_.begin(), told_.end(), [&](const Told& other) {
            return other.seen.kind == Kind::offset && other.seen.channel == told.seen.channel &&
                   std::abs((other.seen.start - told.seen.start).in<Seconds>()) < 0.12;
        });
        if (step != told_.end() && (!told.lasts || told.seen.kind == Kind::hum)) {
            book.withdraw(told.id, step->id);
            told.id = 0;
            told.lasts = false;
        }
    }
    find_frozen(book);
}

void ToneSection::tell_one(const WatchEvent& event, bool lasts, bool settled, EventBook& book) {
    WatchEvent at = event;
    at.start += Seconds{static_cast<double>(first_) / rate_};
    const auto found = std::find_if(told_.begin(), told_.end(),
                                    [&](const Told& told) { return same(told.seen, event); });
    if (found != told_.end()) {
        found->seen = event;
        if (found->id != 0 && found->lasts) {
            book.change(found->id, event.size, end_of(at));
            if (!lasts) {
                book.end(found->id, event.size, end_of(at));
            }
        }
        found->lasts = found->lasts && lasts;
        return;
    }
    // The edges of a dropout look like noise for a moment.
    const bool sure = event.kind == Kind::level || event.kind == Kind::dropout ||
                      event.kind == Kind::gap || event.kind == Kind::repeat;
    if (!sure && !settled) {
        return;
    }
    const bool slip = event.kind == Kind::gap || event.kind == Kind::repeat;
    if (slip && frozen_ != 0) {
        slips_s_.push_back(at.start.in<Seconds>());
        told_.push_back({event, 0, false});
        return;
    }
    const std::uint64_t id = book.begin(at);
    if (!lasts) {
        book.end(id, at.size, end_of(at));
    }
    if (slip) {
        slips_s_.push_back(at.start.in<Seconds>());
        slip_ids_.push_back(id);
        slip_sizes_.push_back(event.size);
    }
    told_.push_back({event, id, lasts});
}

// A buffer that is played again and again is one slip after the other, at equal distances.
void ToneSection::find_frozen(EventBook& book) {
    const double now_s = static_cast<double>(next_) / rate_;
    if (frozen_ != 0) {
        if (!slips_s_.empty() && now_s - slips_s_.back() > 4.0 * frozen_size_ / rate_ + 0.3) {
            book.end(frozen_, frozen_size_, slips_s_.back());
            frozen_ = 0;
            slips_s_.clear();
        }
        return;
    }
    while (!slip_ids_.empty() && now_s - slips_s_.front() > 2.0) {
        slips_s_.erase(slips_s_.begin());
        slip_ids_.erase(slip_ids_.begin());
        slip_sizes_.erase(slip_sizes_.begin());
    }
    if (slip_ids_.size() < slips_frozen) {
        return;
    }
    const std::size_t last = slip_ids_.size() - 1;
    const double period = slips_s_[last] - slips_s_[last - 1];
    const double before = slips_s_[last - 1] - slips_s_[last - 2];
    if (std::abs(period - before) * rate_ > 0.02 * period * rate_ + 24.0 || period > 0.5 ||
        slip_sizes_[last] != slip_sizes_[last - 2]) {
        return;
    }
    WatchEvent event;
    event.kind = Kind::frozen;
    event.start = Seconds{slips_s_[last - 2]};
    event.duration = Seconds{now_s} - event.start;
    event.size = std::round(0.5 * (period + before) * rate_);
    event.timeline_intact = false;
    frozen_size_ = event.size;
    frozen_ = book.begin(event);
    for (const std::uint64_t id : slip_ids_) {
        book.withdraw(id, frozen_);
    }
    slip_ids_.clear();
    slip_sizes_.clear();
}

void ToneSection::drive_changed(WatchedStreams& streams, EventBook& book, Gain /*change*/) {
    watch_->finish();
    tell(book, true);
    changed_at_s_ = static_cast<double>(streams.record.end()) / rate_;
    for (Channel& channel : channels_) {
        channel.before = channel.gain;
        // What this second has gathered belongs to the drive before.
        channel.levels = channel.level_squares = channel.count = 0.0;
        channel.distortion = channel.residual = channel.hum = channel.mean = 0.0;
    }
    std::fill(played_squares_.begin(), played_squares_.end(), 0.0);
    played_count_ = 0.0;
    next_ = streams.record.end() + std::lround(changed_over_s * rate_);
    make_watch();
}

void ToneSection::finish(WatchedStreams& streams, EventBook& book) {
    watch_->finish();
    tell(book, true);
    if (frozen_ != 0) {
        book.end(frozen_, frozen_size_, static_cast<double>(streams.record.end()) / rate_);
        frozen_ = 0;
    }
}

}  // namespace afterload::analysis
