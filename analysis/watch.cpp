#include "analysis/watch.hpp"

#include "analysis/block_buffer.hpp"
#include "analysis/converter_end.hpp"
#include "analysis/dominant_tone.hpp"
#include "analysis/tone.hpp"
#include "analysis/tone_watch.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {
namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double least_search_s = 0.5;

// What the edges of another event and the converter's end bring with them is no event of its own.
bool explained(const WatchEvent& event, const std::vector<WatchEvent>& all,
               const std::vector<ToneWatch::Moment>& moments) {
    using Kind = WatchEvent::Kind;
    if (event.kind != Kind::noise && event.kind != Kind::distortion) {
        return false;
    }
    const double start = event.start.in<Seconds>();
    const double end = start + event.duration.in<Seconds>();
    const auto near = [&](double time) { return start - 0.02 < time && time < end + 0.02; };
    const bool at_moment =
        std::any_of(moments.begin(), moments.end(), [&](const ToneWatch::Moment& moment) {
            return (moment.channel == 0 || moment.channel == event.channel) && near(moment.time_s);
        });
    if (end - start < 0.05 && at_moment) {
        return true;
    }
    return std::any_of(all.begin(), all.end(), [&](const WatchEvent& other) {
        if (other.channel != 0 && event.channel != 0 && other.channel != event.channel) {
            return false;
        }
        const double from = other.start.in<Seconds>();
        const double to = from + other.duration.in<Seconds>();
        // Harmonics above the fifth are in what is called noise.
        if (other.kind == Kind::distortion && event.kind == Kind::noise &&
            std::abs(start - from) < 0.1 && std::abs(end - to) < 0.1) {
            return true;
        }
        // A parabola leaves a little of strong hum.
        if (other.kind == Kind::hum && event.kind == Kind::noise && start > from - 0.1 &&
            end < to + 0.1 && event.size < 0.1 * other.size) {
            return true;
        }
        return other.kind == Kind::clipping && start > from - 0.15 && end < to + 0.15;
    });
}

}  // namespace

class Watch::State {
public:
    explicit State(WatchSettings settings)
        : settings_{std::move(settings)},
          rate_{settings_.rate.frequency().in<Hertz>()},
          buffer_{settings_.full_scale.size()} {
        for (std::size_t c = 0; c < settings_.full_scale.size(); ++c) {
            ends_.emplace_back(static_cast<int>(c) + 1, settings_.full_scale[c].in<VoltsPeak>(),
                               rate_);
        }
        const double ten_periods = settings_.tone ? 10.0 / settings_.tone->in<Hertz>() : 0.0;
        search_ = std::llround(std::max(least_search_s, ten_periods) * rate_);
    }

    void feed(std::span<const std::span<const double>> block) {
        // In slices: a long block would lie in memory a second time.
        constexpr std::size_t slice = 8192;
        std::vector<std::span<const double>> part(block.size());
        for (std::size_t first = 0; first < block.front().size(); first += slice) {
            for (std::size_t c = 0; c < block.size(); ++c) {
                part[c] = block[c].subspan(first, std::min(slice, block[c].size() - first));
            }
            buffer_.append(part);
            advance();
        }
    }

    void finish() {
        if (!tone_) {
            search(buffer_.end());
            advance();
        }
        if (tone_) {
            look_at_ends(tone_->next(), buffer_.end());
            tone_->finish(buffer_, events_);
            if (tone_->silent_from_s()) {
                const double from = *tone_->silent_from_s();
                unwatched_.push_back({UnwatchedPart::Why::silent, Seconds{from},
                                      Seconds{static_cast<double>(buffer_.end()) / rate_ - from}});
            } else if (!tone_->settled_from()) {
                add_unwatched(UnwatchedPart::Why::unsettled, unwatched_from_, buffer_.end());
            }
        } else {
            add_unwatched(UnwatchedPart::Why::silent, unwatched_from_, buffer_.end());
        }
        for (ConverterEnd& end : ends_) {
            end.finish(events_);
        }
        drop_events();
    }

    [[nodiscard]] std::vector<WatchEvent> events() const { return told(events_); }

    [[nodiscard]] std::vector<WatchEvent> events_and_lasting() const {
        std::vector<WatchEvent> all = events_;
        if (tone_) {
            const auto open = tone_->lasting(static_cast<double>(buffer_.end()) / rate_);
            all.insert(all.end(), open.begin(), open.end());
        }
        return told(all);
    }
    [[nodiscard]] std::size_t events_so_far() const { return events_.size() + left_out_; }
    [[nodiscard]] bool lasting() const { return tone_ && !tone_->lasting(0.0).empty(); }
    [[nodiscard]] QualityWatch::Latest latest(std::size_t channel) const {
        return tone_ ? tone_->latest(channel) : QualityWatch::Latest{};
    }

    [[nodiscard]] WatchSummary summary() const {
        WatchSummary summary;
        summary.frames = Frames{buffer_.end()};
        summary.signal_found = tone_ && tone_->settled_from();
        summary.events_left_out = left_out_;
        summary.unwatched = unwatched_;
        summary.not_finite = tone_ ? tone_->not_finite() : 0;
        summary.first_not_finite = Seconds{tone_ ? tone_->first_not_finite_s() : 0.0};
        for (std::size_t c = 0; c < buffer_.channels(); ++c) {
            summary.driven.push_back(tone_ && tone_->driven(c));
            summary.channels.push_back(tone_ ? tone_->figures(c) : ChannelFigures{});
        }
        return summary;
    }

private:
    [[nodiscard]] std::vector<WatchEvent> told(const std::vector<WatchEvent>& all) const {
        const auto moments = tone_ ? tone_->moments() : std::vector<ToneWatch::Moment>{};
        std::vector<WatchEvent> each;
        std::copy_if(all.begin(), all.end(), std::back_inserter(each),
                     [&](const WatchEvent& event) { return !explained(event, all, moments); });
        return told_together(std::move(each), watched_channels());
    }

    void advance() {
        while (!tone_ && buffer_.end() - search_from_ >= search_) {
            search(search_from_ + search_);
        }
        if (!tone_) {
            buffer_.keep_from(search_from_);
            return;
        }
        while (tone_->next() + tone_->length() <= buffer_.end()) {
            const bool was_settled = tone_->settled_from().has_value();
            tone_->watch_piece(buffer_, ends_, events_);
            if (!was_settled && tone_->settled_from()) {
                add_unwatched(UnwatchedPart::Why::silent, unwatched_from_, tone_->onset());
                add_unwatched(UnwatchedPart::Why::unsettled, tone_->onset(),
                              *tone_->settled_from());
            }
            if (tone_->given_up()) {
                search_from_ = tone_->next();
                tone_.reset();
                advance();
                return;
            }
        }
        buffer_.keep_from(tone_->oldest_needed());
        drop_events();
    }

    // Looks for the tone in [search_from_, to).
    void search(std::int64_t to) {
        std::size_t loudest = 0;
        double most = -1.0;
        for (std::size_t c = 0; c < buffer_.channels(); ++c) {
            double squares = 0.0;
            for (const double x : buffer_.at(c, search_from_, to)) {
                squares += std::isfinite(x) ? x * x : 0.0;
            }
            if (squares > most) {
                most = squares;
                loudest = c;
            }
        }
        if (const auto hertz = found_in(buffer_.at(loudest, search_from_, to))) {
            std::optional<double> mains;
            if (settings_.mains) {
                mains = settings_.mains->in<Hertz>();
            }
            tone_.emplace(two_pi * *hertz / rate_, rate_, mains, buffer_.channels(), search_from_);
            return;
        }
        look_at_ends(search_from_, to);
        search_from_ = to;
    }

    [[nodiscard]] std::optional<double> found_in(std::span<const double> samples) const {
        const bool finite = std::all_of(samples.begin(), samples.end(),
                                        [](double x) { return std::abs(x) < 1e100; });
        if (!finite || samples.size() < 64) {
            return std::nullopt;
        }
        const WaveformView record{samples, settings_.rate};
        // A frequency that was stated is a place to look, not a promise: 997 Hz is called 1 kHz.
        const Band where = settings_.tone ? Band{0.97 * *settings_.tone, 1.03 * *settings_.tone}
                                          : Band{Hertz{5.0}, settings_.rate.nyquist()};
        const auto coarse = dominant_tone(record, where);
        ToneFitSettings fit_settings;
        if (coarse) {
            fit_settings.nominal = *coarse;
        } else if (settings_.tone) {
            fit_settings.nominal = *settings_.tone;
        } else {
            return std::nullopt;
        }
        fit_settings.mains = settings_.mains;
        fit_settings.highest_harmonic = 5;
        const auto fit = fit_tone(record, fit_settings);
        if (!fit) {
            return std::nullopt;
        }
        return fit->fundamental.frequency.in<Hertz>();
    }

    void look_at_ends(std::int64_t from, std::int64_t to) {
        for (std::size_t c = 0; c < ends_.size(); ++c) {
            ends_[c].look(buffer_.at(c, from, to), from, events_);
        }
    }

    void add_unwatched(UnwatchedPart::Why why, std::int64_t from, std::int64_t to) {
        if (to > from) {
            unwatched_.push_back({why, Seconds{static_cast<double>(from) / rate_},
                                  Seconds{static_cast<double>(to - from) / rate_}});
        }
    }

    void drop_events() {
        if (events_.size() > most_events) {
            left_out_ += events_.size() - most_events;
            events_.resize(most_events);
        }
    }

    // Channels that can take part in an event of all.
    [[nodiscard]] int watched_channels() const {
        int count = 0;
        for (std::size_t c = 0; tone_ && c < buffer_.channels(); ++c) {
            count += tone_->driven(c) ? 1 : 0;
        }
        return count > 0 ? count : static_cast<int>(buffer_.channels());
    }

    WatchSettings settings_;
    double rate_;
    BlockBuffer buffer_;
    std::vector<ConverterEnd> ends_;
    std::int64_t search_ = 0;
    std::int64_t search_from_ = 0;
    std::int64_t unwatched_from_ = 0;
    std::optional<ToneWatch> tone_;
    std::vector<WatchEvent> events_;
    std::size_t left_out_ = 0;
    std::vector<UnwatchedPart> unwatched_;
};

Watch::Watch(WatchSettings settings) : state_{std::make_unique<State>(std::move(settings))} {}
Watch::~Watch() = default;
Watch::Watch(Watch&&) noexcept = default;
Watch& Watch::operator=(Watch&&) noexcept = default;

void Watch::feed(std::span<const std::span<const double>> channels) {
    state_->feed(channels);
}
void Watch::finish() {
    state_->finish();
}
std::vector<WatchEvent> Watch::events() const {
    return state_->events();
}
WatchSummary Watch::summary() const {
    return state_->summary();
}
std::vector<WatchEvent> Watch::events_and_lasting() const {
    return state_->events_and_lasting();
}
std::size_t Watch::events_so_far() const {
    return state_->events_so_far();
}
bool Watch::lasting() const {
    return state_->lasting();
}
QualityWatch::Latest Watch::latest(std::size_t channel) const {
    return state_->latest(channel);
}

}  // namespace afterload::analysis
