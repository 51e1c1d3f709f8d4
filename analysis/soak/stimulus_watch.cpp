#include "analysis/soak/stimulus_watch.hpp"

#include "analysis/converter_end.hpp"
#include "analysis/rotor.hpp"
#include "analysis/soak/event_book.hpp"
#include "analysis/soak/sample_clock.hpp"
#include "analysis/soak/signal_watch.hpp"
#include "analysis/soak/tone_section.hpp"
#include "analysis/soak/watch_section.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

constexpr double slice_s = 0.025;
constexpr double clipping_over_s = 0.1;
// What the converter's end does to the filters is gone by then.
constexpr double clipping_shadow_s = 0.25;

struct RawSums {
    double sum = 0.0;
    double squares = 0.0;
    double least = 0.0;
    double most = 0.0;
};

// Four numbers of a slice in one pass, two pairs abreast.
RawSums raw_sums(std::span<const double> samples) {
    RawSums result;
    const double first = samples.empty() ? 0.0 : samples.front();
    Pair sum[2] = {{0.0, 0.0}, {0.0, 0.0}};
    Pair squares[2] = {{0.0, 0.0}, {0.0, 0.0}};
    Pair least[2] = {{first, first}, {first, first}};
    Pair most[2] = {{first, first}, {first, first}};
    std::size_t n = 0;
    for (; n + 4 <= samples.size(); n += 4) {
        for (std::size_t k = 0; k < 2; ++k) {
            const Pair x = load(samples.data() + n + 2 * k);
            sum[k] += x;
            squares[k] += x * x;
            least[k] = x < least[k] ? x : least[k];
            most[k] = x > most[k] ? x : most[k];
        }
    }
    for (std::size_t k = 0; k < 2; ++k) {
        result.sum += sum[k][0] + sum[k][1];
        result.squares += squares[k][0] + squares[k][1];
    }
    result.least = std::min({least[0][0], least[0][1], least[1][0], least[1][1]});
    result.most = std::max({most[0][0], most[0][1], most[1][0], most[1][1]});
    for (; n < samples.size(); ++n) {
        result.sum += samples[n];
        result.squares += samples[n] * samples[n];
        result.least = std::min(result.least, samples[n]);
        result.most = std::max(result.most, samples[n]);
    }
    return result;
}

}  // namespace

class StimulusWatch::State {
public:
    State(StimulusWatchSettings settings, WatchedStimulus stimulus)
        : settings_{std::move(settings)},
          rate_{settings_.rate.frequency().in<Hertz>()},
          clock_{rate_},
          book_{most_waiting},
          raw_(settings_.full_scale.size()),
          clipped_(settings_.full_scale.size()) {
        next_stimulus_ = stimulus;
        begins_at_ = 0;
        slice_ = std::max<std::int64_t>(16, std::lround(slice_s * rate_));
        second_ = std::lround(rate_);
    }

    void feed(std::span<const std::span<const double>> record,
              std::span<const std::span<const double>> stimulus) {
        const std::size_t length = record.front().size();
        for (std::size_t first = 0; first < length;) {
            // Slices end with a second, with a section's beginning, and with the block.
            std::int64_t count =
                std::min<std::int64_t>(slice_, static_cast<std::int64_t>(length - first));
            count = std::min(count, second_begins_ + second_ - frames_);
            if (begins_at_ && *begins_at_ > frames_) {
                count = std::min(count, *begins_at_ - frames_);
            }
            slice(record, stimulus, first, static_cast<std::size_t>(count));
            first += static_cast<std::size_t>(count);
        }
    }

    void relearn(WatchedStimulus stimulus, Seconds settle) {
        end_section();
        disturbed_ = true;
        next_stimulus_ = stimulus;
        begins_at_ = frames_ + std::lround(settle.in<Seconds>() * rate_);
    }

    void drive_changed(Gain change) {
        disturbed_ = true;
        if (section_) {
            section_->drive_changed(*streams_, book_, change);
        }
    }

    void came_by(Seconds monotonic) {
        const auto found = clock_.add(frames_, monotonic.in<Seconds>());
        if (!found) {
            return;
        }
        WatchEvent event;
        event.kind = found->frames > 0 ? WatchEvent::Kind::gap : WatchEvent::Kind::repeat;
        event.start = Seconds{found->since_s};
        event.duration = Seconds{static_cast<double>(frames_) / rate_ - found->since_s};
        event.size = static_cast<double>(std::abs(found->frames));
        event.timeline_intact = false;
        book_.tell(event);
    }

    void finish() {
        end_section();
        const double now_s = seconds();
        for (std::size_t c = 0; c < clipped_.size(); ++c) {
            end_clipping(c);
        }
        if (stuck_ != 0) {
            book_.end(stuck_, 1.0, now_s);
            stuck_ = 0;
        }
        book_.pass(1e300);
        book_.end_all(now_s);
        if (frames_ > second_begins_) {
            end_second();
        }
    }

    [[nodiscard]] std::vector<SoakEvent> take_events() { return book_.take(); }
    [[nodiscard]] std::vector<SoakReading> take_readings() {
        std::vector<SoakReading> taken;
        taken.swap(readings_);
        return taken;
    }
    [[nodiscard]] bool learning() const { return !section_ || section_->learning(); }
    [[nodiscard]] Frames frames() const { return Frames{frames_}; }
    [[nodiscard]] std::int64_t not_finite() const { return not_finite_; }
    [[nodiscard]] std::size_t left_out() const { return book_.left_out(); }
    [[nodiscard]] std::optional<double> latency_frames() const {
        return section_ ? section_->latency_frames() : std::nullopt;
    }

private:
    struct Clipped {
        std::uint64_t event = 0;
        double samples = 0.0;
        double until_s = 0.0;
    };
    [[nodiscard]] double seconds() const { return static_cast<double>(frames_) / rate_; }

    void slice(std::span<const std::span<const double>> record,
               std::span<const std::span<const double>> stimulus, std::size_t first,
               std::size_t count) {
        if (begins_at_ && *begins_at_ <= frames_) {
            begin_section(stimulus.size());
        }
        std::vector<std::span<const double>> heard;
        std::vector<std::span<const double>> played;
        bool constant = true;
        for (std::size_t c = 0; c < raw_.size(); ++c) {
            std::span<const double> samples = record[c].subspan(first, count);
            RawSums sums = raw_sums(samples);
            if (!std::isfinite(sums.squares)) {
                samples = made_finite(samples, heard_finite_, c);
                sums = raw_sums(samples);
            }
            heard.push_back(samples);
            look_at_end(c, samples, sums);
            constant = constant && sums.least == sums.most && sums.most != 0.0;
            RawSums& all = raw_[c];
            all.sum += sums.sum;
            all.squares += sums.squares;
            all.least = std::min(all.least, sums.least);
            all.most = std::max(all.most, sums.most);
        }
        look_at_stuck(constant && count > 8);
        if (section_) {
            for (std::size_t s = 0; s < streams_->stimulus.channels(); ++s) {
                const std::span<const double> samples =
                    s < stimulus.size() ? stimulus[s].subspan(first, count) : heard.front();
                played.push_back(std::isfinite(raw_sums(samples).squares)
                                     ? samples
                                     : made_finite(samples, played_finite_, s));
            }
            streams_->record.append(heard);
            if (!played.empty()) {
                streams_->stimulus.append(played);
            }
        }
        frames_ += static_cast<std::int64_t>(count);
        if (section_) {
            section_->advance(*streams_, book_);
            const std::int64_t oldest = std::min(section_->oldest_needed(), streams_->record.end());
            streams_->record.keep_from(oldest);
            if (streams_->stimulus.channels() > 0) {
                streams_->stimulus.keep_from(oldest);
            }
        }
        book_.pass(seconds());
        if (frames_ == second_begins_ + second_) {
            end_second();
        }
    }

    std::span<const double> made_finite(std::span<const double> samples,
                                        std::vector<std::vector<double>>& store, std::size_t c) {
        if (store.size() <= c) {
            store.resize(c + 1);
        }
        store[c].assign(samples.begin(), samples.end());
        for (double& v : store[c]) {
            if (!(std::abs(v) < 1e100)) {
                v = 0.0;
                ++not_finite_;
            }
        }
        return store[c];
    }

    void look_at_end(std::size_t c, std::span<const double> samples, const RawSums& sums) {
        const int number = static_cast<int>(c) + 1;
        ConverterEnd end{number, settings_.full_scale[c].in<VoltsPeak>(), rate_};
        Clipped& clipped = clipped_[c];
        const double reaches = std::max(sums.most, -sums.least);
        if (reaches >= end.end()) {
            std::vector<WatchEvent> events;
            end.look(samples, frames_, events);
            end.finish(events);
            for (const WatchEvent& event : events) {
                clipped.samples += event.size;
                clipped.until_s = (event.start + event.duration).in<Seconds>();
                book_.disbelieve(number, clipped.until_s + clipping_shadow_s);
                if (clipped.event == 0) {
                    clipped.event = book_.begin(event);
                }
                book_.change(clipped.event, clipped.samples, clipped.until_s);
            }
        }
        if (clipped.event != 0 && seconds() - clipped.until_s > clipping_over_s) {
            end_clipping(c);
        }
    }

    void end_clipping(std::size_t c) {
        Clipped& clipped = clipped_[c];
        if (clipped.event != 0) {
            book_.end(clipped.event, clipped.samples, clipped.until_s);
        }
        clipped = {};
    }

    // Every channel gives one and the same sample: no converter does that by itself.
    void look_at_stuck(bool constant) {
        if (constant) {
            book_.disbelieve(0, seconds() + clipping_shadow_s);
            if (stuck_ == 0) {
                WatchEvent event;
                event.kind = WatchEvent::Kind::frozen;
                event.start = Seconds{seconds()};
                event.size = 1.0;
                event.timeline_intact = false;
                stuck_ = book_.begin(event);
                book_.withdraw_since(seconds() - 0.06, stuck_);
            }
        } else if (stuck_ != 0) {
            book_.end(stuck_, 1.0, seconds());
            stuck_ = 0;
        }
    }

    void begin_section(std::size_t stimuli) {
        begins_at_.reset();
        const bool silent = next_stimulus_.kind == WatchedStimulus::Kind::silence;
        streams_.emplace(raw_.size(), silent ? 0 : std::max<std::size_t>(1, stimuli), frames_);
        if (next_stimulus_.kind == WatchedStimulus::Kind::tone) {
            section_ = std::make_unique<ToneSection>(settings_, next_stimulus_.tone, frames_);
        } else {
            section_ = std::make_unique<SignalWatch>(settings_, streams_->stimulus.channels(),
                                                     frames_, silent);
        }
        kind_ = next_stimulus_.kind;
    }

    void end_section() {
        if (!section_) {
            return;
        }
        section_->finish(*streams_, book_);
        section_.reset();
        streams_.reset();
        // A level that another stimulus was at has no meaning for the next one.
        for (std::size_t c = 0; c < clipped_.size(); ++c) {
            end_clipping(c);
        }
        book_.end_all(seconds());
        stuck_ = 0;
    }

    void end_second() {
        SoakReading reading;
        const double count = static_cast<double>(frames_ - second_begins_);
        reading.start = Seconds{static_cast<double>(second_begins_) / rate_};
        reading.duration = Seconds{count / rate_};
        reading.kind = section_ ? kind_ : next_stimulus_.kind;
        for (RawSums& raw : raw_) {
            ChannelReading channel;
            const double mean = raw.sum / count;
            channel.level = VoltsRms{std::sqrt(std::max(0.0, raw.squares / count - mean * mean))};
            channel.peak = VoltsPeak{std::max(raw.most, -raw.least)};
            channel.offset = VoltsDc{mean};
            reading.channels.push_back(channel);
            raw = {};
        }
        if (section_) {
            section_->read(reading);
        }
        reading.learning = learning() || disturbed_;
        disturbed_ = learning();
        if (readings_.size() < most_waiting) {
            readings_.push_back(std::move(reading));
        }
        second_begins_ = frames_;
    }

    StimulusWatchSettings settings_;
    double rate_;
    SampleClock clock_;
    EventBook book_;
    std::int64_t slice_ = 0;
    std::int64_t second_ = 0;
    std::int64_t frames_ = 0;
    std::int64_t second_begins_ = 0;
    bool disturbed_ = true;  // this second, see SoakReading::learning
    WatchedStimulus next_stimulus_;
    std::optional<std::int64_t> begins_at_;
    WatchedStimulus::Kind kind_ = WatchedStimulus::Kind::silence;
    std::optional<WatchedStreams> streams_;
    std::unique_ptr<WatchSection> section_;
    std::vector<RawSums> raw_;
    std::vector<Clipped> clipped_;
    std::uint64_t stuck_ = 0;
    std::int64_t not_finite_ = 0;
    std::vector<std::vector<double>> heard_finite_;
    std::vector<std::vector<double>> played_finite_;
    std::vector<SoakReading> readings_;
};

StimulusWatch::StimulusWatch(StimulusWatchSettings settings, WatchedStimulus stimulus)
    : state_{std::make_unique<State>(std::move(settings), stimulus)} {}
StimulusWatch::~StimulusWatch() = default;
StimulusWatch::StimulusWatch(StimulusWatch&&) noexcept = default;
StimulusWatch& StimulusWatch::operator=(StimulusWatch&&) noexcept = default;

void StimulusWatch::feed(std::span<const std::span<const double>> record,
                         std::span<const std::span<const double>> stimulus) {
    state_->feed(record, stimulus);
}
void StimulusWatch::relearn(WatchedStimulus stimulus, Seconds settle) {
    state_->relearn(stimulus, settle);
}
void StimulusWatch::drive_changed(Gain change) {
    state_->drive_changed(change);
}
void StimulusWatch::came_by(Seconds monotonic) {
    state_->came_by(monotonic);
}
void StimulusWatch::finish() {
    state_->finish();
}
std::vector<SoakEvent> StimulusWatch::take_events() {
    return state_->take_events();
}
std::vector<SoakReading> StimulusWatch::take_readings() {
    return state_->take_readings();
}
bool StimulusWatch::learning() const {
    return state_->learning();
}
Frames StimulusWatch::frames() const {
    return state_->frames();
}
std::int64_t StimulusWatch::not_finite() const {
    return state_->not_finite();
}
std::size_t StimulusWatch::events_left_out() const {
    return state_->left_out();
}
std::optional<double> StimulusWatch::latency_frames() const {
    return state_->latency_frames();
}

}  // namespace afterload::analysis
