#include "analysis/soak/signal_watch.hpp"

#include "analysis/level_change.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

constexpr int skipped_blocks = 12;  // the slow band's filters come in
constexpr double most_drift = 300e-6;
constexpr double delay_share = 1.0 / 8.0;
constexpr double drift_share = delay_share * delay_share / 8.0;
constexpr double least_jump = 0.5;  // frames: less is the clock's
constexpr double kept_s = 0.5;

double mains_of(const StimulusWatchSettings& settings) {
    return settings.mains ? settings.mains->in<Hertz>() : 0.0;
}

double relative(Gain step) {
    return amplitude_ratio(step).in<AmplitudeRatio>() - 1.0;
}

}  // namespace

SignalWatch::SignalWatch(const StimulusWatchSettings& settings, std::size_t stimuli,
                         std::int64_t first, bool silent)
    : settings_{settings},
      rate_{settings.rate.frequency().in<Hertz>()},
      silent_{silent},
      phase_{silent ? Phase::learning : Phase::aligning},
      first_{first},
      next_{first},
      to_skip_{skipped_blocks} {
    const ReducedStream stream{rate_};
    block_ = static_cast<std::int64_t>(GainBlock::length * stream.factor());
    const double slow_rate =
        rate_ / static_cast<double>(stream.factor() * ReducedStream::slower_by);
    for (std::size_t c = 0; c < settings.full_scale.size(); ++c) {
        const int number = static_cast<int>(c) + 1;
        channels_.push_back({stream,
                             GainModel{},
                             GainWatch{number, relative(settings.least_step), stretch_s()},
                             SlowBand{slow_rate, mains_of(settings)},
                             SlowWatch{number, settings.least_offset.in<VoltsDc>()},
                             {},
                             {},
                             {},
                             GainWatch::Found::usual,
                             0.0,
                             0.0,
                             0.0,
                             {}});
    }
    for (std::size_t s = 0; s < stimuli && !silent; ++s) {
        played_.push_back({stream, std::vector<double>(GainModel::taps - 1, 0.0), {}, {}});
    }
}

double SignalWatch::stretch_s() const {
    return static_cast<double>(block_) / rate_ / GainBlock::stretches;
}

double SignalWatch::block_start_s() const {
    return (static_cast<double>(next_) - channels_.front().record.fast_delay()) / rate_;
}

// The stimulus is read earlier, so that the filter may look ahead.
std::int64_t SignalWatch::played_at(std::int64_t frame, std::int64_t latency) const {
    return frame - latency +
           static_cast<std::int64_t>(GainModel::ahead * channels_.front().record.factor());
}

std::int64_t SignalWatch::oldest_needed() const {
    const std::int64_t oldest = std::min(next_, next_ - latency_);
    return oldest - std::lround(kept_s * rate_);
}

std::optional<double> SignalWatch::latency_frames() const {
    if (phase_ != Phase::watching || silent_) {
        return std::nullopt;
    }
    return static_cast<double>(latency_) + channels_[loudest_].delay;
}

void SignalWatch::advance(WatchedStreams& streams, EventBook& book) {
    if (phase_ == Phase::aligning && !find_latency(streams)) {
        return;
    }
    while (next_ + block_ <= streams.record.end() &&
           (silent_ || played_at(next_ + block_, latency_) <= streams.stimulus.end())) {
        reduce(streams);
        if (to_skip_ > 0) {
            --to_skip_;
        } else if (phase_ == Phase::learning) {
            keep_block();
            const auto kept = static_cast<double>(channels_.front().fast_kept.size());
            const double kept_for = kept * static_cast<double>(block_) / GainBlock::length / rate_;
            if (kept_for >= (silent_ ? 1.0 : settings_.reference.in<Seconds>())) {
                learn(book);
            }
        } else {
            watch_block(streams, book);
        }
        next_ += block_;
    }
}

// Brings the block at next_ down.
void SignalWatch::reduce(WatchedStreams& streams) {
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        channels_[c].record.feed(streams.record.at(c, next_, next_ + block_));
    }
    for (std::size_t s = 0; s < played_.size(); ++s) {
        Played& played = played_[s];
        const std::int64_t from = played_at(next_, latency_);
        played.stream.feed(streams.stimulus.at(s, from, from + block_));
        auto& history = played.history;
        history.erase(history.begin(),
                      history.end() - static_cast<std::ptrdiff_t>(GainModel::taps - 1));
        history.insert(history.end(), played.stream.fast.begin(), played.stream.fast.end());
    }
}

void SignalWatch::keep_block() {
    const auto keep = [](std::vector<double>& kept, const std::vector<double>& more) {
        kept.insert(kept.end(), more.begin(), more.end());
    };
    for (Channel& channel : channels_) {
        keep(channel.fast_kept, channel.record.fast);
        keep(channel.slow_kept, channel.record.slow);
    }
    for (Played& played : played_) {
        keep(played.fast_kept, played.stream.fast);
        keep(played.slow_kept, played.stream.slow);
    }
}

// A source on a clock of its own: the delay grows from block to block.
double SignalWatch::learnt_drift() const {
    const Channel& channel = channels_[loudest_];
    const auto& x = played_[std::min(loudest_, played_.size() - 1)].fast_kept;
    double drift = 0.0;
    for (int round = 0; round < 12; ++round) {
        const GainModel model{x, channel.fast_kept, drift};
        const std::vector<double> moved = on_other_clock(x, drift);
        double count = 0.0;
        double t_sum = 0.0;
        double d_sum = 0.0;
        double tt = 0.0;
        double td = 0.0;
        double weight = 0.0;
        for (std::size_t first = GainModel::taps - 1; first + GainBlock::length <= x.size();
             first += GainBlock::length) {
            const GainBlock block =
                model.block(std::span{moved}.subspan(first - (GainModel::taps - 1),
                                                     GainModel::taps - 1 + GainBlock::length),
                            std::span{channel.fast_kept}.subspan(first, GainBlock::length));
            const double t = static_cast<double>(first) - 0.5 * static_cast<double>(x.size());
            weight = block.all.xx;
            count += weight;
            t_sum += weight * t;
            d_sum += weight * block.delay;
            tt += weight * t * t;
            td += weight * t * block.delay;
        }
        const double below = count * tt - t_sum * t_sum;
        const double more = below > 0.0 ? (count * td - t_sum * d_sum) / below : 0.0;
        drift = std::clamp(drift + more, -most_drift, most_drift);
        if (std::abs(more) < 0.1e-6) {
            break;
        }
    }
    return std::abs(drift) < 0.3e-6 ? 0.0 : drift;
}

void SignalWatch::learn(EventBook& book) {
    double most = 0.0;
    for (std::size_t c = 0; c < channels_.size() && !silent_; ++c) {
        const auto& x = played_[std::min(c, played_.size() - 1)].fast_kept;
        const GainModel model{x, channels_[c].fast_kept, 0.0};
        double power = 0.0;
        for (const double v : channels_[c].fast_kept) {
            power += v * v;
        }
        if (model.driven() && power > most) {
            most = power;
            loudest_ = c;
        }
    }
    const double drift = silent_ || !(most > 0.0) ? 0.0 : learnt_drift();
    int driven = 0;
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        Channel& channel = channels_[c];
        const std::vector<double> nothing(channel.fast_kept.size(), 0.0);
        const std::size_t s = silent_ ? 0 : std::min(c, played_.size() - 1);
        channel.model =
            GainModel{silent_ ? nothing : played_[s].fast_kept, channel.fast_kept, drift};
        driven += channel.model.driven() ? 1 : 0;
        channel.drift = drift * static_cast<double>(block_);
        channel.slow.learn(silent_ || !channel.model.driven()
                               ? std::span<const double>{}
                               : std::span<const double>{played_[s].slow_kept},
                           channel.slow_kept);
        channel.fast_kept = {};
        channel.slow_kept = {};
    }
    for (Played& played : played_) {
        played.fast_kept = {};
        played.slow_kept = {};
    }
    book.set_channels(driven > 0 ? driven : static_cast<int>(channels_.size()));
    phase_ = Phase::watching;
}

void SignalWatch::watch_block(WatchedStreams& streams, EventBook& book) {
    const std::vector<double> nothing(GainModel::taps - 1 + GainBlock::length, 0.0);
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        Channel& channel = channels_[c];
        const auto& x = silent_ ? nothing : played_[std::min(c, played_.size() - 1)].history;
        channel.delay += channel.drift;
        channel.model.stand_at(channel.delay / static_cast<double>(channel.record.factor()));
        channel.block = channel.model.block(x, channel.record.fast);
    }
    judge(streams, book);
    bool watched = lost_ == 0 && frozen_ == 0;
    watch_slow_bands(watched, book);
    for (Channel& channel : channels_) {
        sum_up(channel);
    }
    if (watched && !silent_) {
        take_raw_gains(streams);
        follow_clock(streams);
    }
}

bool SignalWatch::all_lost() const {
    int driven = 0;
    bool all = true;
    bool jumped = true;
    for (const Channel& channel : channels_) {
        if (!channel.model.driven()) {
            continue;
        }
        ++driven;
        all = all && channel.found == GainWatch::Found::incoherent;
        jumped = jumped && channel.found == GainWatch::Found::usual && channel.gain.calm() &&
                 std::abs(channel.jump()) > std::max(least_jump, channel.jump_doubt());
    }
    return driven > 0 && (all || jumped);
}

void SignalWatch::judge(WatchedStreams& streams, EventBook& book) {
    const double start_s = block_start_s();
    for (Channel& channel : channels_) {
        channel.found = channel.gain.add(channel.model, channel.block, start_s, book);
    }
    if (all_lost()) {
        if (lost_++ == 0) {
            lost_from_ = next_;
        }
        judge_lost(streams, book);
        return;
    }
    if (lost_ > 0 || frozen_ != 0) {
        lost_ = 0;
        end_frozen(book);
    }
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        Channel& channel = channels_[c];
        if (channel.found == GainWatch::Found::unheard) {
            channel.model.hurry();
            learn_more(c);
            continue;
        }
        if (channel.found != GainWatch::Found::usual) {
            channel.model.skip();
        }
        if (channel.found == GainWatch::Found::incoherent) {
            if (tell_brief(streams, c, book)) {
                continue;
            }
            channel.gain.settle_incoherent(channel.model, channel.block, start_s, book);
        } else if (channel.found == GainWatch::Found::usual && channel.model.driven()) {
            const double away = std::clamp(channel.jump(), -least_jump, least_jump);
            const double doubt = channel.jump_doubt() / least_jump;
            const double trust = 1.0 / std::max(1.0, doubt * doubt);
            channel.delay += trust * delay_share * away;
            channel.drift += trust * drift_share * away;
            learn_more(c);
        }
    }
}

void SignalWatch::learn_more(std::size_t c) {
    Channel& channel = channels_[c];
    channel.model.learn_more(played_[std::min(c, played_.size() - 1)].history, channel.record.fast,
                             channel.gain.expected());
}

void SignalWatch::watch_slow_bands(bool watched, EventBook& book) {
    const double end_s =
        (static_cast<double>(next_ + block_) - channels_.front().record.slow_delay() -
         static_cast<double>(SlowBand::ahead * ReducedStream::slower_by *
                             channels_.front().record.factor())) /
        rate_;
    const double window_s = static_cast<double>(SlowBand::window * ReducedStream::slower_by *
                                                channels_.front().record.factor()) /
                            rate_;
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        Channel& channel = channels_[c];
        const auto x =
            silent_ || !channel.model.driven()
                ? std::span<const double>{}
                : std::span<const double>{played_[std::min(c, played_.size() - 1)].stream.slow};
        const bool sound =
            watched && channel.found != GainWatch::Found::incoherent && channel.gain.calm();
        const auto reading =
            channel.slow.add(x, channel.record.slow, channel.gain.expected(), sound);
        if (!reading) {
            continue;
        }
        const double expected = channel.gain.expected();
        const double level = x.empty()
                                 ? 0.0
                                 : expected * std::sqrt(channel.block.all.xx /
                                                        static_cast<double>(GainBlock::length));
        channel.slow_watch.add(channel.slow, *reading, level, end_s, window_s,
                               watched && !channel.gain.in_dropout(), book);
        channel.sums.offset += reading->mean + channel.slow.reference_mean();
        channel.sums.hum += reading->hum * reading->hum;
        channel.sums.slow += 1.0;
    }
}

void SignalWatch::sum_up(Channel& channel) {
    Sums& sums = channel.sums;
    sums.blocks += 1.0;
    sums.rest += std::max(
        0.0, channel.block.all.left(channel.model.driven() ? channel.gain.expected() : 0.0));
    if (channel.found != GainWatch::Found::usual || lost_ > 0 || !channel.model.driven()) {
        return;
    }
    sums.xx += channel.block.all.xx;
    sums.xy += channel.block.all.xy;
    sums.gains += channel.block.gain;
    sums.gain_squares += channel.block.gain * channel.block.gain;
    sums.watched += 1.0;
}

void SignalWatch::read(SoakReading& reading) {
    std::vector<std::optional<Gain>> away;
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        Channel& channel = channels_[c];
        ChannelReading& into = reading.channels[c];
        const Sums& sums = channel.sums;
        if (sums.xx > 0.0 && sums.xy > 0.0) {
            into.gain_away = gain_of(AmplitudeRatio{sums.xy / sums.xx});
            into.gain = *into.gain_away + gain_of(PowerRatio{channel.model.power_gain()});
            const double mean = sums.gains / sums.watched;
            const double variance =
                std::max(0.0, sums.gain_squares / sums.watched - mean * mean) / sums.watched;
            into.gain_sigma = Gain{level_change_db(1.0 + std::sqrt(variance) / mean)};
        }
        if (sums.blocks > 0.0) {
            into.residual = VoltsRms{std::sqrt(sums.rest / (sums.blocks * GainBlock::length))};
        }
        if (sums.slow > 0.0) {
            into.offset = VoltsDc{sums.offset / sums.slow};
            if (settings_.mains) {
                into.hum = VoltsRms{std::sqrt(sums.hum / sums.slow)};
            }
        }
        away.push_back(into.gain_away);
        channel.sums = {};
    }
    if (away.size() >= 2 && away[0] && away[1]) {
        reading.channel_difference = *away[0] - *away[1];
    }
}

void SignalWatch::finish(WatchedStreams& streams, EventBook& book) {
    const double end_s = seconds(streams.record.end());
    for (Channel& channel : channels_) {
        channel.gain.finish(end_s, book);
        channel.slow_watch.finish(end_s, book);
    }
    if (frozen_ != 0) {
        book.end(frozen_, frozen_size_, end_s);
        frozen_ = 0;
    }
}

}  // namespace afterload::analysis
