#include "analysis/tone_watch.hpp"

#include "analysis/brief_change.hpp"
#include "analysis/level_change.hpp"
#include "analysis/timeline.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {
namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double leak_ratio = 0.1;    // a channel below this of the loudest is not driven
constexpr double gone_ratio = 0.05;   // of the level before: hardly a tone any more
constexpr double back_ratio = 0.08;   // and it is again
constexpr double least_step = 0.017;  // half of what is an event: what is looked at more closely
constexpr double least_turn = 0.05;   // radians, of a phase that jumps by no whole samples
constexpr double least_brief_s = 0.0045;  // a dropout of 5 ms, its edges blurred by noise
constexpr double most_waited_s = 10.0;
constexpr double most_slipped_s = 0.5;
constexpr std::size_t most_moments = 10000;

// The oldest may still hold some of what was before: it is left out.
std::complex<double> mean_of(const std::vector<std::complex<double>>& values) {
    std::complex<double> sum;
    for (std::size_t i = 1; i < values.size(); ++i) {
        sum += values[i];
    }
    return sum / static_cast<double>(std::max<std::size_t>(1, values.size() - 1));
}

}  // namespace

ToneWatch::ToneWatch(double omega, double rate_hz, std::optional<double> mains_hz,
                     std::size_t channels, std::int64_t first)
    : rate_hz_{rate_hz},
      fit_{omega, rate_hz},
      mains_{mains_hz.value_or(0.0), omega * rate_hz / two_pi, fit_.lines(),
             static_cast<double>(fit_.length()) / rate_hz},
      first_{first},
      next_{first},
      pieces_(channels),
      first_pieces_(channels) {
    const double piece_s = static_cast<double>(fit_.length()) / rate_hz;
    settled_pieces_ =
        1 + std::max<std::size_t>(3, static_cast<std::size_t>(std::ceil(0.01 / piece_s)));
    pieces_to_begin_ = std::max<std::size_t>(12, static_cast<std::size_t>(0.1 / piece_s));
    history_ = std::max<std::int64_t>(std::llround(0.3 * rate_hz), 12 * length());
    most_disturbed_ = std::max<std::int64_t>(std::llround(5.0 * rate_hz), 24 * length());
    pieces_a_window_ = std::max(1L, std::lround(0.1 / piece_s));
}

bool ToneWatch::given_up() const {
    return !settled_from_ && seconds(next_ - first_) > most_waited_s;
}

double ToneWatch::omega_of(const Channel& channel) const {
    const auto samples = static_cast<double>(length());
    return fit_.omega() +
           std::remainder(channel.track.turn() - fit_.omega() * samples, two_pi) / samples;
}

std::complex<double> ToneWatch::expected_at(const Channel& channel, std::int64_t sample) const {
    const double middle = static_cast<double>(next_) + 0.5 * (static_cast<double>(length()) - 1.0);
    return channel.track.expected() *
           std::polar(1.0, omega_of(channel) * (static_cast<double>(sample) - middle));
}

Piece ToneWatch::fitted(BlockBuffer& buffer, std::size_t channel, ConverterEnd& end,
                        std::vector<WatchEvent>& events) {
    const auto samples = buffer.at(channel, next_, next_ + length());
    Piece piece = fit_(samples.data(), end.end());
    if (piece.at_end || !piece.finite) {
        end.look(samples, next_, events);
    }
    if (!piece.finite) {
        first_not_finite_s_ = not_finite_ == 0 ? seconds(next_) : first_not_finite_s_;
        ++not_finite_;
        // Volts beyond 1e100 are no volts either; their squares are not numbers.
        std::replace_if(
            samples.begin(), samples.end(), [](double x) { return !(std::abs(x) < 1e100); }, 0.0);
        piece = fit_(samples.data(), end.end());
    }
    return piece;
}

void ToneWatch::watch_piece(BlockBuffer& buffer, std::vector<ConverterEnd>& ends,
                            std::vector<WatchEvent>& events) {
    for (std::size_t c = 0; c < pieces_.size(); ++c) {
        pieces_[c] = fitted(buffer, c, ends[c], events);
    }
    if (!settled_from_) {
        settle_in();
        next_ += length();
        return;
    }
    watch_tone(buffer, events);
    tell_slips(buffer, next_ + length(), false, events);
    const double start = seconds(next_);
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        Channel& channel = channels_[c];
        if (!channel.gone) {
            channel.quality.add(pieces_[c], start, !disturbed_from_, mains_, events);
        }
    }
    mains_.turn();
    next_ += length();
    if (++window_pieces_ == pieces_a_window_) {
        for (Channel& channel : channels_) {
            channel.quality.end_window(seconds(window_from_), window_pieces_, channel.track.turn(),
                                       mains_, events);
        }
        window_pieces_ = 0;
        window_from_ = next_;
    }
}

// The tone is its own once a tenth of a second of it stands still.
void ToneWatch::settle_in() {
    std::size_t loudest = 0;
    for (std::size_t c = 0; c < pieces_.size(); ++c) {
        auto& kept = first_pieces_[c];
        kept.push_back(pieces_[c].line[0]);
        if (kept.size() > pieces_to_begin_) {
            kept.erase(kept.begin());
        }
    }
    std::vector<double> level(pieces_.size(), 0.0);
    for (std::size_t c = 0; c < pieces_.size(); ++c) {
        for (const auto& z : first_pieces_[c]) {
            level[c] += std::abs(z) / static_cast<double>(first_pieces_[c].size());
        }
        loudest = level[c] > level[loudest] ? c : loudest;
    }
    first_levels_.push_back(std::abs(pieces_[loudest].line[0]));
    if (first_pieces_.front().size() < pieces_to_begin_ || !(level[loudest] > 0.0)) {
        return;
    }
    for (std::size_t c = 0; c < pieces_.size(); ++c) {
        if (level[c] < leak_ratio * level[loudest]) {
            continue;
        }
        const auto& kept = first_pieces_[c];
        const std::size_t half = kept.size() / 2;
        double early = 0.0;
        double squares = 0.0;
        for (std::size_t b = 0; b < kept.size(); ++b) {
            const double away = std::abs(kept[b]) / level[c] - 1.0;
            squares += away * away;
            early += b < half ? away : 0.0;
        }
        const auto count = static_cast<double>(kept.size());
        const double sigma = std::sqrt(squares / count);
        // Half of the pieces stand as high as all do, within what their scatter allows.
        if (sigma > 0.1 || std::abs(early) / static_cast<double>(half) >
                               std::max(0.003, 3.0 * sigma / std::sqrt(count))) {
            return;
        }
    }
    settled_from_ = next_ + length() - length() * static_cast<std::int64_t>(pieces_to_begin_);
    std::size_t before = 0;
    while (first_levels_[before] < leak_ratio * level[loudest]) {
        ++before;
    }
    onset_ = first_ + length() * static_cast<std::int64_t>(before);
    const double turn = fit_.omega() * static_cast<double>(length());
    for (std::size_t c = 0; c < pieces_.size(); ++c) {
        const int number = static_cast<int>(c) + 1;
        const bool driven = level[c] >= leak_ratio * level[loudest];
        channels_.push_back(
            {driven,
             false,
             ToneTrack{},
             LevelLadder{number},
             QualityWatch{number, driven, driven ? level[c] : level[loudest], fit_, rate_hz_},
             {},
             {}});
        if (driven) {
            channels_.back().track.begin(first_pieces_[c], turn);
        }
    }
    first_pieces_.clear();
    first_levels_ = {};
    window_from_ = next_ + length();
}

bool ToneWatch::suspicious(const Channel& channel, const ToneTrack::Deviation& seen) const {
    if (channel.gone) {
        return seen.level > back_ratio - 1.0;
    }
    // Samples as many as a period holds, nearly, turn the tone by little.
    const double least =
        std::max(std::min(0.3 * fit_.omega(), least_jump), 6.0 * channel.track.phase_sigma());
    return std::abs(seen.level) > std::max(least_step, 6.0 * channel.track.level_sigma()) ||
           std::abs(seen.turn) > least;
}

bool ToneWatch::steady(const Channel& channel) const {
    const auto& recent = channel.recent;
    const std::complex<double> mean = mean_of(recent);
    const double level = std::abs(mean);
    const double level_tolerance = std::max(least_step * level, 6.0 * channel.track.level_sigma());
    const double turn_tolerance = std::max(std::min(least_step, 0.25 * fit_.omega()) * level,
                                           6.0 * channel.track.phase_sigma());
    const bool gone = std::all_of(recent.begin(), recent.end(),
                                  [](const auto& z) { return std::abs(z) < gone_ratio; });
    return gone || std::all_of(recent.begin(), recent.end(), [&](const auto& z) {
               const std::complex<double> away = (z - mean) * std::conj(mean) / level;
               return std::abs(away.real()) <= level_tolerance &&
                      std::abs(away.imag()) <= turn_tolerance;
           });
}

void ToneWatch::watch_tone(BlockBuffer& buffer, std::vector<WatchEvent>& events) {
    bool disturbed = disturbed_from_.has_value();
    if (!disturbed) {
        for (std::size_t c = 0; c < channels_.size() && !disturbed; ++c) {
            const Channel& channel = channels_[c];
            disturbed =
                channel.driven && suspicious(channel, channel.track.deviation(pieces_[c].line[0]));
        }
        if (disturbed) {
            disturbed_from_ = next_;
        }
    }
    if (!disturbed) {
        for (std::size_t c = 0; c < channels_.size(); ++c) {
            Channel& channel = channels_[c];
            if (channel.driven && !channel.gone) {
                channel.track.follow(channel.track.deviation(pieces_[c].line[0]));
            } else if (channel.driven) {
                channel.track.pass();
            }
        }
        return;
    }
    bool all_steady = true;
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        Channel& channel = channels_[c];
        if (!channel.driven) {
            continue;
        }
        channel.recent.push_back(pieces_[c].line[0] / channel.track.expected());
        if (channel.recent.size() > settled_pieces_) {
            channel.recent.erase(channel.recent.begin());
        }
        all_steady = all_steady && channel.recent.size() == settled_pieces_ && steady(channel);
    }
    const bool waited = next_ - *disturbed_from_ > most_disturbed_;
    // The first piece of a disturbance may hold only its beginning: another must follow.
    const bool enough =
        next_ - *disturbed_from_ >= length() * static_cast<std::int64_t>(settled_pieces_);
    if ((all_steady && enough) || waited) {
        settle_disturbance(buffer, events);
    }
    for (Channel& channel : channels_) {
        if (channel.driven) {
            channel.track.pass();
        }
    }
}

void ToneWatch::settle_disturbance(BlockBuffer& buffer, std::vector<WatchEvent>& events) {
    const std::int64_t from =
        std::max({buffer.begin(), *disturbed_from_ - 2 * length(), next_ + length() - history_});
    disturbed_from_.reset();
    for (Channel& channel : channels_) {
        if (channel.driven) {
            channel.after = mean_of(channel.recent);
        }
    }
    const bool slipped = settle_slip(buffer, from);
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        Channel& channel = channels_[c];
        if (!channel.driven) {
            continue;
        }
        if (!slipped || channel.gone) {
            settle_level(buffer, from, c, events);
        }
        channel.gone = std::abs(channel.after) < gone_ratio;
        if (!channel.gone) {
            channel.track.move(channel.after);
        }
        channel.recent.clear();
    }
}

// A slip turns all tones by one angle and leaves their levels alone.
bool ToneWatch::settle_slip(BlockBuffer& buffer, std::int64_t from) {
    std::complex<double> turn;
    double sigma = 0.0;
    std::size_t loudest = 0;
    double most = 0.0;
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        const Channel& channel = channels_[c];
        if (!channel.driven) {
            continue;
        }
        const double level = std::abs(channel.after);
        if (std::abs(level - 1.0) > 0.02 + 3.0 * channel.track.level_sigma()) {
            return false;
        }
        turn += channel.after / level;
        sigma = std::max(sigma, channel.track.phase_sigma());
        if (std::abs(channel.track.expected()) > most) {
            most = std::abs(channel.track.expected());
            loudest = c;
        }
    }
    const Channel& channel = channels_[loudest];
    const double omega = omega_of(channel);
    const double angle = std::arg(turn);
    if (std::abs(angle) < std::max(std::min(0.4 * omega, least_jump), 4.0 * sigma)) {
        return false;
    }
    for (const Channel& other : channels_) {
        const double apart = std::arg(other.after * std::conj(turn));
        if (other.driven &&
            std::abs(apart) > std::max(std::min(0.1 * omega, least_jump), 6.0 * sigma)) {
            return false;
        }
    }
    const auto record = buffer.at(loudest, from, next_ + length());
    const std::complex<double> tone = expected_at(channel, from);
    const std::complex<double> before = channel.gone ? std::complex<double>{} : tone;
    const auto at =
        from + static_cast<std::int64_t>(border(record, omega, before, tone * channel.after));
    // Of a low tone a single sample is a small angle.
    const double small = std::min(1.0, 0.01 / omega);
    const double tolerance = std::clamp(5.0 * sigma / omega + 0.06 * small * small, 0.004, 0.3);
    if (!whole_slip(record, static_cast<std::size_t>(at - from), angle, omega, tolerance,
                    most_slipped_s * rate_hz_)) {
        return false;
    }
    slips_.push_back({loudest, at, angle, omega, tolerance});
    remember(0, seconds(at));
    return true;
}

// Samples that stand twice are told by themselves, once as many have come as may stand twice.
void ToneWatch::tell_slips(BlockBuffer& buffer, std::int64_t now, bool all,
                           std::vector<WatchEvent>& events) {
    while (!slips_.empty() && (all || now - slips_.front().at >= history_ / 3)) {
        const Slipped slipped = slips_.front();
        slips_.erase(slips_.begin());
        const std::int64_t from = std::max(buffer.begin(), now - history_);
        const auto slip =
            whole_slip(buffer.at(slipped.channel, from, now),
                       static_cast<std::size_t>(std::max<std::int64_t>(0, slipped.at - from)),
                       slipped.angle, slipped.omega, slipped.tolerance, most_slipped_s * rate_hz_);
        if (!slip) {
            continue;
        }
        const std::int64_t at =
            slip->frames < 0 ? from + static_cast<std::int64_t>(slip->at) : slipped.at;
        WatchEvent event;
        event.kind = slip->frames > 0 ? WatchEvent::Kind::gap : WatchEvent::Kind::repeat;
        event.channel = 0;
        event.start = Seconds{seconds(at)};
        event.duration = Seconds{std::abs(seconds(slip->frames))};
        event.size = static_cast<double>(std::abs(slip->frames));
        event.timeline_intact = false;
        events.push_back(event);
    }
}

void ToneWatch::remember(int channel, double time_s) {
    if (moments_.size() < most_moments) {
        moments_.push_back({channel, time_s});
    }
}

void ToneWatch::settle_level(BlockBuffer& buffer, std::int64_t from, std::size_t index,
                             std::vector<WatchEvent>& events) {
    Channel& channel = channels_[index];
    const auto record = buffer.at(index, from, next_ + length());
    const double omega = omega_of(channel);
    const std::complex<double> tone = expected_at(channel, from);
    const double full = std::abs(tone);
    const double ratio = std::abs(channel.after);
    const bool gone = ratio < gone_ratio;
    if (channel.gone && gone) {
        return;
    }
    const bool lost = gone && ratio < 6.0 * channel.track.level_sigma() /
                                          std::sqrt(static_cast<double>(settled_pieces_));
    if (channel.gone || gone || LevelLadder::changed(ratio)) {
        const std::complex<double> before = channel.gone ? std::complex<double>{} : tone;
        const std::complex<double> after = gone ? std::complex<double>{} : tone * channel.after;
        const auto edge = static_cast<std::int64_t>(border(record, omega, before, after));
        remember(static_cast<int>(index) + 1, seconds(from + edge));
        channel.ladder.step(seconds(from + edge), channel.gone ? 0.0 : full,
                            lost ? 0.0 : ratio * full, events);
        return;
    }
    const double turned = std::arg(channel.after);
    if (std::abs(turned) >
            std::max(std::min(0.4 * omega, least_jump), 6.0 * channel.track.phase_sigma()) ||
        std::abs(ratio - 1.0) > 0.3 * least_step) {
        const auto edge =
            static_cast<std::int64_t>(border(record, omega, tone, tone * channel.after));
        remember(static_cast<int>(index) + 1, seconds(from + edge));
        if (std::abs(turned) > std::max(least_turn, 0.4 * omega)) {
            // The phase jumped by no whole number of samples.
            WatchEvent event;
            event.channel = static_cast<int>(index) + 1;
            event.start = Seconds{seconds(from + edge)};
            event.size = level_change_db(ratio);
            events.push_back(event);
        }
        return;
    }
    const auto brief = brief_change(record, omega, tone);
    if (!brief || !LevelLadder::changed(std::abs(brief->ratio)) ||
        static_cast<double>(brief->end - brief->first) < least_brief_s * rate_hz_) {
        return;
    }
    WatchEvent event;
    event.kind = std::abs(brief->ratio) <= LevelLadder::dropout_ratio ? WatchEvent::Kind::dropout
                                                                      : WatchEvent::Kind::level;
    event.channel = static_cast<int>(index) + 1;
    event.start = Seconds{seconds(from + static_cast<std::int64_t>(brief->first))};
    event.duration = Seconds{seconds(static_cast<std::int64_t>(brief->end - brief->first))};
    event.size = level_change_db(std::abs(brief->ratio));
    remember(event.channel, event.start.in<Seconds>());
    remember(event.channel, (event.start + event.duration).in<Seconds>());
    events.push_back(event);
}

std::vector<WatchEvent> ToneWatch::lasting(double now_s) const {
    std::vector<WatchEvent> events;
    for (const Channel& channel : channels_) {
        if (channel.ladder.open()) {
            LevelLadder ladder = channel.ladder;
            ladder.finish(now_s, events);
        }
        if (channel.quality.open()) {
            QualityWatch quality = channel.quality;
            quality.finish(events);
        }
    }
    return events;
}

void ToneWatch::finish(BlockBuffer& buffer, std::vector<WatchEvent>& events) {
    tell_slips(buffer, buffer.end(), true, events);
    const double end = seconds(buffer.end());
    bool all_gone = settled_from_.has_value();
    double since = end;
    for (const Channel& channel : channels_) {
        all_gone = all_gone && (!channel.driven || channel.ladder.in_dropout());
        since = channel.driven ? std::min(since, channel.ladder.last_step_s()) : since;
    }
    for (Channel& channel : channels_) {
        // All channels quiet to the last sample: the signal ended, nothing dropped out.
        const bool ended =
            all_gone && channel.driven && channel.ladder.last_step_s() < since + 0.005;
        if (ended) {
            channel.ladder.forget_last();
            silent_from_s_ = since;
        }
        channel.ladder.finish(ended ? since : end, events);
        channel.quality.finish(events);
    }
}

}  // namespace afterload::analysis
