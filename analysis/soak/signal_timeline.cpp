// Where the record stands against the stimulus: how a SignalWatch finds it, follows it, and finds
// it again after a slip.
#include "analysis/soak/brief_gain.hpp"
#include "analysis/soak/signal_watch.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

constexpr double search_s = 1.0;
constexpr double most_ahead_s = 0.05;
constexpr double most_latency_s = 0.35;
constexpr double least_likeness = 0.3;
constexpr int prime_blocks = 3;
constexpr int slow_blocks = 14;
constexpr double longest_buffer_s = 0.18;
constexpr std::int64_t shortest_buffer = 48;
constexpr double repeated_likeness = 0.98;
constexpr double wait_s = 0.5;

// Differences lift what tells the moment best above what only rumbles.
std::vector<double> differences(std::span<const double> samples) {
    std::vector<double> result(samples.size());
    for (std::size_t n = 1; n < samples.size(); ++n) {
        result[n] = samples[n] - samples[n - 1];
    }
    return result;
}

}  // namespace

bool SignalWatch::find_latency(WatchedStreams& streams) {
    const auto ahead = std::lround(most_ahead_s * rate_);
    const auto latency = std::lround(most_latency_s * rate_);
    const auto length = std::lround(search_s * rate_);
    while (true) {
        const std::int64_t from = first_ + latency;
        if (from + length + ahead > std::min(streams.record.end(), streams.stimulus.end())) {
            next_ = first_;
            return false;
        }
        Alignment best;
        for (std::size_t c = 0; c < channels_.size(); ++c) {
            const std::size_t s = streams.stimulus_of(c);
            const std::int64_t x_from = std::max(streams.stimulus.begin(), first_);
            const auto x = differences(streams.stimulus.at(s, x_from, from + length + ahead));
            const auto y = differences(streams.record.at(c, from, from + length));
            const Alignment found = align(x, x_from, y, from, -ahead, latency);
            if (std::abs(found.likeness) > std::abs(best.likeness)) {
                best = found;
            }
        }
        if (std::abs(best.likeness) >= least_likeness) {
            latency_ = best.lag;
            found_lag_ = best.lag;
            break;
        }
        first_ += length;
    }
    phase_ = Phase::learning;
    next_ = std::max({first_, streams.record.begin(),
                      streams.stimulus.begin() + next_ - played_at(next_, latency_)});
    return true;
}

// The stimulus' streams as they would be had it always stood at `latency`, up to the end of the
// block that is now.
std::vector<SignalWatch::Played> SignalWatch::played_before(WatchedStreams& streams,
                                                            std::int64_t latency,
                                                            std::int64_t blocks) const {
    std::vector<Played> result;
    const std::int64_t end = played_at(next_ + block_, latency);
    const std::int64_t available = (end - streams.stimulus.begin()) / block_;
    if (end > streams.stimulus.end() || available < 2) {
        return result;
    }
    for (std::size_t s = 0; s < played_.size(); ++s) {
        Played played{ReducedStream{rate_}, {}, {}, {}};
        for (std::int64_t b = std::min(blocks, available); b > 0; --b) {
            played.stream.feed(streams.stimulus.at(s, end - b * block_, end - (b - 1) * block_));
            played.fast_kept.insert(played.fast_kept.end(), played.stream.fast.begin(),
                                    played.stream.fast.end());
            played.slow_kept.insert(played.slow_kept.end(), played.stream.slow.begin(),
                                    played.stream.slow.end());
        }
        played.history.assign(played.fast_kept.end() - static_cast<std::ptrdiff_t>(
                                                           GainModel::taps - 1 + GainBlock::length),
                              played.fast_kept.end());
        played.fast_kept = {};
        result.push_back(std::move(played));
    }
    return result;
}

std::vector<GainBlock> SignalWatch::blocks_at(WatchedStreams& streams, std::int64_t latency) {
    std::vector<GainBlock> blocks;
    const std::vector<Played> played = played_before(streams, latency, prime_blocks + 1);
    for (std::size_t c = 0; c < channels_.size() && !played.empty(); ++c) {
        blocks.push_back(channels_[c].model.block(played[std::min(c, played.size() - 1)].history,
                                                  channels_[c].record.fast));
    }
    return blocks;
}

void SignalWatch::realign(WatchedStreams& streams, std::int64_t latency) {
    std::vector<Played> played = played_before(streams, latency, slow_blocks);
    if (played.empty()) {
        return;
    }
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        if (channels_[c].model.driven()) {
            channels_[c].slow.realign(played[std::min(c, played.size() - 1)].slow_kept);
        }
    }
    for (Played& one : played) {
        one.slow_kept = {};
    }
    played_ = std::move(played);
    found_lag_ += latency - latency_;
    latency_ = latency;
}

// A frame more or less when the clocks have run apart by so much.
void SignalWatch::follow_clock(WatchedStreams& streams) {
    const double delay = channels_[loudest_].delay;
    if (std::abs(delay) < 0.6) {
        return;
    }
    const std::int64_t by = delay > 0.0 ? 1 : -1;
    const std::int64_t end = played_at(next_ + block_, latency_ + by);
    if (end > streams.stimulus.end()) {
        return;
    }
    // The slow band does not notice a frame: its stream goes on as it is.
    std::vector<Played> played = played_before(streams, latency_ + by, prime_blocks + 1);
    if (played.empty()) {
        return;
    }
    for (std::size_t s = 0; s < played_.size(); ++s) {
        played_[s].stream.take_fast(played[s].stream);
        played_[s].history = std::move(played[s].history);
    }
    latency_ += by;
    found_lag_ += by;
    for (Channel& channel : channels_) {
        channel.delay -= static_cast<double>(by);
        channel.model.skip();
    }
}

// The gain from sample to sample, which is not quite that of the reduced band.
void SignalWatch::take_raw_gains(WatchedStreams& streams) {
    constexpr int blocks_between = 40;
    if (++since_raw_gains_ < blocks_between) {
        return;
    }
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        Channel& channel = channels_[c];
        if (!channel.model.driven() || channel.found != GainWatch::Found::usual ||
            next_ + block_ - latency_ > streams.stimulus.end() ||
            next_ - latency_ < streams.stimulus.begin()) {
            continue;
        }
        const auto x = differences(streams.stimulus.at(streams.stimulus_of(c), next_ - latency_,
                                                       next_ + block_ - latency_));
        const auto y = differences(streams.record.at(c, next_, next_ + block_));
        double xx = 0.0;
        double xy = 0.0;
        for (std::size_t n = 0; n < x.size(); ++n) {
            xx += x[n] * x[n];
            xy += x[n] * y[n];
        }
        if (xx > 0.0 && channel.gain.expected() > 0.0) {
            channel.raw_gain = xy / xx / channel.gain.expected();
            since_raw_gains_ = 0;
        }
    }
}

// A dropout shorter than a block, on the samples themselves.
bool SignalWatch::tell_brief(WatchedStreams& streams, std::size_t channel, EventBook& book) {
    if (silent_ || !channels_[channel].model.driven() || channels_[channel].raw_gain == 0.0 ||
        !channels_[channel].gain.calm()) {
        return false;
    }
    const std::size_t s = streams.stimulus_of(channel);
    const std::int64_t from =
        std::max({next_ - block_, streams.record.begin(), streams.stimulus.begin() + latency_});
    const std::int64_t to = next_ + block_;
    if (to - latency_ > streams.stimulus.end()) {
        return false;
    }
    const auto step = static_cast<std::size_t>(std::max(4L, std::lround(0.5e-3 * rate_)));
    const auto brief = brief_gain(streams.stimulus.at(s, from - latency_, to - latency_),
                                  streams.record.at(channel, from, to), step,
                                  channels_[channel].raw_gain * channels_[channel].gain.expected());
    if (!brief) {
        return false;
    }
    const std::int64_t first = from + static_cast<std::int64_t>(brief->first);
    const std::int64_t end = from + static_cast<std::int64_t>(brief->end);
    channels_[channel].gain.tell_brief(seconds(first), seconds(end), brief->ratio, book);
    return true;
}

void SignalWatch::judge_lost(WatchedStreams& streams, EventBook& book) {
    const double waited_s = seconds(next_ - lost_from_);
    const bool now_and_then = waited_s < 2.0 || lost_ % 16 == 0;
    if (now_and_then && find_slip(streams, book)) {
        lost_ = 0;
        return;
    }
    if (now_and_then && frozen_ == 0 && find_repetition(streams, book)) {
        return;
    }
    if (frozen_ == 0) {
        bool brief = false;
        for (std::size_t c = 0; c < channels_.size(); ++c) {
            brief = tell_brief(streams, c, book) || brief;
        }
        if (brief) {
            lost_ = 0;
            return;
        }
    }
    if (frozen_ != 0 || lost_ < 2) {
        return;
    }
    // As loud as it should be and nothing like what it should be: a slip that reaches further than
    // the stimulus is known yet, or a buffer that has not come round once.
    bool another = true;
    for (const Channel& channel : channels_) {
        if (!channel.model.driven()) {
            continue;
        }
        const StretchSums& all = channel.block.all;
        const double expected = channel.gain.expected() * channel.gain.expected() * all.xx;
        another = another && all.xy * all.xy < 0.5 * all.xx * all.yy && all.yy > 0.2 * expected &&
                  all.yy < 5.0 * expected;
    }
    if (another && waited_s < wait_s) {
        return;
    }
    for (Channel& channel : channels_) {
        if (channel.model.driven()) {
            channel.gain.settle_incoherent(channel.model, channel.block, block_start_s(), book);
        }
    }
}

bool SignalWatch::find_slip(WatchedStreams& streams, EventBook& book) {
    const auto reach = std::lround(most_latency_s * rate_);
    const std::size_t s = streams.stimulus_of(loudest_);
    const std::int64_t x_from = std::max(streams.stimulus.begin(), next_ - found_lag_ - reach);
    const auto x = differences(streams.stimulus.at(s, x_from, streams.stimulus.end()));
    const auto y = differences(streams.record.at(loudest_, next_, next_ + block_));
    const Alignment found = align(x, x_from, y, next_, found_lag_ - reach, found_lag_ + reach);
    const Channel& loudest = channels_[loudest_];
    for (const std::int64_t slip : {found.lag - found_lag_, std::lround(loudest.jump())}) {
        if (slip == 0 || static_cast<double>(std::abs(slip)) <= loudest.jump_doubt()) {
            continue;
        }
        const std::vector<GainBlock> blocks = blocks_at(streams, latency_ + slip);
        bool whole = !blocks.empty();
        for (std::size_t c = 0; c < blocks.size(); ++c) {
            const Channel& channel = channels_[c];
            if (!channel.model.driven()) {
                continue;
            }
            const double base = channel.gain.expected();
            const double usual = channel.model.most_rest() *
                                 channel.model.usual_rest(blocks[c].all.xx * base * base);
            const double away =
                blocks[c].delay * static_cast<double>(channel.record.factor()) - channel.delay;
            whole = whole && blocks[c].all.left(base) < 2.0 * usual && std::abs(away) < 0.3;
        }
        if (!whole) {
            continue;
        }
        const std::int64_t at = border(streams, latency_, latency_ + slip);
        if (frozen_ == 0) {
            WatchEvent event;
            event.kind = slip < 0 ? WatchEvent::Kind::gap : WatchEvent::Kind::repeat;
            event.start = Seconds{seconds(at)};
            event.duration = Seconds{seconds(std::abs(slip))};
            event.size = static_cast<double>(std::abs(slip));
            event.timeline_intact = false;
            book.tell(event);
        }
        end_frozen(book);
        realign(streams, latency_ + slip);
        for (std::size_t c = 0; c < channels_.size(); ++c) {
            channels_[c].block = blocks[c];
            channels_[c].found = GainWatch::Found::usual;
            channels_[c].gain.forget_incoherent();
        }
        return true;
    }
    return false;
}

// First frame from which the record goes with the stimulus at latency `after`.
std::int64_t SignalWatch::border(WatchedStreams& streams, std::int64_t before,
                                 std::int64_t after) const {
    const std::size_t s = streams.stimulus_of(loudest_);
    const std::int64_t from = std::max({lost_from_ - block_, streams.record.begin() + 1,
                                        streams.stimulus.begin() + 1 + std::max(before, after)});
    const std::int64_t to =
        std::min({next_ + block_, streams.stimulus.end() + std::min(before, after)});
    if (to <= from) {
        return lost_from_;
    }
    const auto y = streams.record.at(loudest_, from - 1, to);
    const auto old_x = streams.stimulus.at(s, from - 1 - before, to - before);
    const auto new_x = streams.stimulus.at(s, from - 1 - after, to - after);
    const auto dy = differences(y);
    const auto old_dx = differences(old_x);
    const auto new_dx = differences(new_x);
    double xx = 0.0;
    double xy = 0.0;
    for (std::size_t n = dy.size() / 2; n < dy.size(); ++n) {
        xx += new_dx[n] * new_dx[n];
        xy += new_dx[n] * dy[n];
    }
    const double gain = xx > 0.0 ? xy / xx : 1.0;
    double sum = 0.0;
    double least = 0.0;
    std::int64_t at = from;
    for (std::size_t n = 1; n < dy.size(); ++n) {
        const double with_old = dy[n] - gain * old_dx[n];
        const double with_new = dy[n] - gain * new_dx[n];
        sum += with_old * with_old - with_new * with_new;
        if (sum < least) {
            least = sum;
            at = from + static_cast<std::int64_t>(n);
        }
    }
    return at;
}

// The source plays its last buffer again and again, while it should go on.
bool SignalWatch::find_repetition(WatchedStreams& streams, EventBook& book) {
    const auto most = std::lround(longest_buffer_s * rate_);
    const std::int64_t y_from = std::max(streams.record.begin(), next_ - most - 2 * block_);
    const auto all = differences(streams.record.at(loudest_, y_from, next_ + block_));
    const std::span<const double> whole{all};
    const auto size = static_cast<std::size_t>(block_);
    const auto now = whole.last(size);
    const Alignment found = align(whole, y_from, now, next_, shortest_buffer, most);
    if (found.likeness < repeated_likeness) {
        return false;
    }
    const auto earlier = whole.subspan(whole.size() - 2 * size, size);
    if (align(whole, y_from, earlier, next_ - block_, found.lag, found.lag).likeness <
        repeated_likeness) {
        return false;
    }
    const std::size_t s = streams.stimulus_of(loudest_);
    const std::int64_t x_end = std::min(streams.stimulus.end(), next_ + block_ - latency_);
    const std::int64_t x_from = x_end - block_ - found.lag;
    if (x_from < streams.stimulus.begin()) {
        return false;
    }
    const auto x = differences(streams.stimulus.at(s, x_from, x_end));
    if (align(x, x_from, std::span{x}.last(size), x_end - block_, found.lag, found.lag).likeness >
        0.9) {
        return false;
    }
    WatchEvent event;
    event.kind = WatchEvent::Kind::frozen;
    event.start = Seconds{seconds(lost_from_)};
    event.duration = Seconds{seconds(next_ + block_ - lost_from_)};
    event.size = static_cast<double>(found.lag);
    event.timeline_intact = false;
    frozen_size_ = event.size;
    frozen_ = book.begin(event);
    for (Channel& channel : channels_) {
        channel.gain.forget_incoherent();
    }
    return true;
}

void SignalWatch::end_frozen(EventBook& book) {
    if (frozen_ != 0) {
        book.end(frozen_, frozen_size_, seconds(next_));
        frozen_ = 0;
    }
}

}  // namespace afterload::analysis
