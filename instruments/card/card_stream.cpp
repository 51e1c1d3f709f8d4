#include "instruments/card/card_stream.hpp"

#include "instruments/card/played_signal.hpp"
#include "instruments/monotonic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <deque>
#include <limits>
#include <mutex>
#include <thread>
#include <utility>

namespace afterload::instruments {

namespace {

constexpr Seconds longest_stall{0.4};  // of capture, then the card counts as gone
constexpr Seconds longest_start{3.0};  // until its first frame
constexpr int most_restarts = 5;       // within a second
constexpr Seconds steady{0.01};        // of the delays
constexpr Seconds steady_for{0.3};
constexpr Seconds longest_goodbye{1.0};  // of the card's thread
constexpr std::size_t block_frames = 1024;
constexpr std::size_t offsets_kept = 15;
constexpr std::size_t most_places = 1000;  // of faults

std::int32_t digital(double volts, double full_scale) {
    constexpr double highest = std::numeric_limits<std::int32_t>::max();
    return static_cast<std::int32_t>(
        std::clamp(std::nearbyint(volts / full_scale * 0x1p31), -highest, highest));
}

}  // namespace

class CardStream::Work {
public:
    Work(CardSettings settings, std::unique_ptr<Pcm> play, std::unique_ptr<Pcm> record)
        : settings_{std::move(settings)},
          play_{std::move(play)},
          record_{std::move(record)},
          signal_{settings_.pcm.rate},
          bits_{std::min({settings_.pcm.bits, play_->bits(), record_->bits()})} {}
    Work(const Work&) = delete;
    Work& operator=(const Work&) = delete;
    ~Work() = default;

    /// On a thread of its own, which keeps what it works on: a call into an audio server that hangs
    /// may never come back.
    static std::thread begin_thread(const std::shared_ptr<Work>& work) {
        return std::thread{[work] {
            work->run();
            work->over_.store(true);
        }};
    }
    void stop() { stop_.store(true); }
    bool over() const { return over_.load(); }

    std::int64_t play(Stimulus stimulus) {
        const std::lock_guard lock{mutex_};
        // A fade is not cut short: that would click.
        const std::int64_t at = std::max(count_.played, changed_ + signal_.fade().count());
        signal_.change(std::move(stimulus), Frames{at});
        changed_ = at;
        return at + offset();
    }
    std::shared_ptr<CardRecording> record(std::int64_t first, std::size_t frames) {
        auto recording = std::make_shared<CardRecording>();
        recording->frames = frames;
        recording->channels.resize(2);
        for (auto& channel : recording->channels) {
            channel.reserve(frames);
        }
        const std::lock_guard lock{mutex_};
        recording->first = std::max(first, count_.captured);
        recordings_.push_back(recording);
        return recording;
    }
    std::int64_t latency() const {
        const std::lock_guard lock{mutex_};
        return count_.played + offset() - count_.captured;
    }
    CardCount count() const {
        const std::lock_guard lock{mutex_};
        return count_;
    }
    std::int64_t captured() const {
        const std::lock_guard lock{mutex_};
        return count_.captured;
    }
    std::optional<BenchFailure> failure() const {
        const std::lock_guard lock{mutex_};
        // Looked at from here as well: the card's thread may itself hang in a call.
        const Seconds still = monotonic_now() - count_.now;
        if (!failure_ && count_.captured > 0 && still > longest_stall) {
            return failure_of(BenchFailure::Kind::no_reply, "no frame came in", still);
        }
        return failure_;
    }
    void on_block(Watcher watcher) {
        const std::lock_guard lock{mutex_};
        watcher_ = std::move(watcher);
    }
    /// What a card says of its delays means little in its first moments, an audio server's for more
    /// than a second: waits until it has stayed the same for a while. Why it never ran, if it did
    /// not.
    std::optional<BenchFailure> wait_until_steady() const {
        const Seconds begun = monotonic_now();
        Seconds since = begun;
        std::int64_t at = 0;
        while (monotonic_now() - begun < longest_start) {
            std::this_thread::sleep_for(std::chrono::milliseconds{5});
            if (auto why = failure()) {
                return why;
            }
            const std::lock_guard lock{mutex_};
            const double moved = static_cast<double>(std::abs(offset() - at));
            if (count_.captured == 0 ||
                moved > steady.in<Seconds>() * settings_.pcm.rate.frequency().in<Hertz>()) {
                at = offset();
                since = monotonic_now();
            } else if (monotonic_now() - since > steady_for) {
                return std::nullopt;
            }
        }
        return std::nullopt;
    }
    const CardSettings& settings() const { return settings_; }
    int bits() const { return bits_; }
    std::string format() const {
        return fmt::format("plays {}; records {}", play_->format(), record_->format());
    }

private:
    void run() {
        progress_ = monotonic_now();
        const bool begun = begin(true) && begin(false);
        while (begun && !stop_.load() && !failed()) {
            record_->wait(Seconds{0.01});
            if (!take() || !feed()) {
                break;
            }
            const bool started = count_.captured > 0;
            const Seconds still = monotonic_now() - progress_;
            if (still > (started ? longest_stall : longest_start)) {
                fail(BenchFailure::Kind::no_reply, "no frame came in", still);
            }
        }
        play_->drop();
        record_->drop();
    }

    /// Starts one direction, playing with a full buffer of silence or what is due.
    bool begin(bool playing) {
        if (playing && !feed()) {
            return false;
        }
        const Pcm::Moved started = (playing ? play_ : record_)->start();
        if (started.outcome == Pcm::Outcome::vanished) {
            fail(BenchFailure::Kind::lost, started.why, Seconds{0.0});
            return false;
        }
        return true;
    }

    /// What did not move: a card that stopped is started again. False: it is gone.
    bool mend(const Pcm::Moved& moved, bool playing) {
        if (moved.outcome == Pcm::Outcome::stopped) {
            return again(playing);
        }
        fail(BenchFailure::Kind::lost, moved.why, monotonic_now() - progress_);
        return false;
    }

    /// The card stopped by itself and is started again; false when it does not.
    bool again(bool playing) {
        const Seconds now = monotonic_now();
        restarts_.push_back(now);
        while (restarts_.front() < now - Seconds{1.0}) {
            restarts_.pop_front();
        }
        {
            const std::lock_guard lock{mutex_};
            ++(playing ? count_.underruns : count_.overruns);
            auto& places = playing ? count_.starved_at : count_.lost_at;
            if (places.size() < most_places) {
                places.push_back(count_.captured);
            }
            offsets_.clear();
            for (const auto& recording : recordings_) {
                const std::int64_t into =
                    std::max<std::int64_t>(count_.captured - recording->first, 0);
                recording->faults.push_back(
                    {CaptureFaultKind::gap, 0, duration(Frames{into}, settings_.pcm.rate),
                     playing ? "the card was not fed in time and played nothing for a moment"
                             : "frames were not fetched in time and are lost"});
            }
        }
        if (restarts_.size() > static_cast<std::size_t>(most_restarts)) {
            fail(BenchFailure::Kind::lost,
                 fmt::format("it stopped {} times within a second", restarts_.size()),
                 Seconds{1.0});
            return false;
        }
        Pcm& pcm = playing ? *play_ : *record_;
        if (!pcm.prepare()) {
            fail(BenchFailure::Kind::lost, "it stopped and cannot be started again",
                 now - progress_);
            return false;
        }
        return begin(playing);
    }

    bool take() {
        const auto width = static_cast<std::size_t>(record_->channels());
        taken_.resize(block_frames * width);
        while (true) {
            const Pcm::Moved moved = record_->read(taken_);
            if (moved.outcome != Pcm::Outcome::moved) {
                return mend(moved, false);
            }
            if (moved.frames == 0) {
                return true;
            }
            progress_ = monotonic_now();
            deliver(moved.frames, width);
            if (moved.frames < block_frames) {
                return true;
            }
        }
    }

    void deliver(std::size_t frames, std::size_t width) {
        const auto delay = record_->delay();
        const auto play_delay = play_->delay();
        std::array<std::vector<std::int32_t>, 2> sensed;
        for (std::size_t c = 0; c < 2; ++c) {
            const auto from = static_cast<std::size_t>(settings_.record[c] - 1);
            sensed[c].resize(frames);
            for (std::size_t n = 0; n < frames; ++n) {
                sensed[c][n] = taken_[n * width + from] >> (32 - bits_);
            }
        }
        Watcher watcher;
        std::int64_t first = 0;
        {
            const std::lock_guard lock{mutex_};
            first = count_.captured;
            count_.captured += static_cast<std::int64_t>(frames);
            count_.now = progress_;
            if (first == 0) {
                count_.since = progress_;
            }
            for (const auto& recording : recordings_) {
                hand(*recording, first, sensed);
            }
            std::erase_if(recordings_,
                          [](const auto& recording) { return recording->done.load(); });
            if (delay && play_delay) {
                offsets_.push_back(count_.captured + *delay - (count_.played - *play_delay));
                while (offsets_.size() > offsets_kept) {
                    offsets_.pop_front();
                }
            }
            watcher = watcher_;
        }
        if (watcher) {
            watcher(first, {sensed[0], sensed[1]});
        }
    }

    void hand(CardRecording& recording, std::int64_t first,
              const std::array<std::vector<std::int32_t>, 2>& sensed) const {
        const auto frames = static_cast<std::int64_t>(sensed[0].size());
        const auto have = static_cast<std::int64_t>(recording.channels[0].size());
        const std::int64_t from = recording.first + have - first;
        const std::int64_t to =
            std::min(frames, recording.first + static_cast<std::int64_t>(recording.frames) - first);
        if (from >= frames || to <= from) {
            return;
        }
        if (have == 0) {
            recording.began = progress_;
        }
        for (std::size_t c = 0; c < 2; ++c) {
            recording.channels[c].insert(recording.channels[c].end(), sensed[c].begin() + from,
                                         sensed[c].begin() + to);
        }
        if (recording.channels[0].size() == recording.frames) {
            recording.ended = progress_;
            recording.done.store(true);
        }
    }

    bool feed() {
        const auto width = static_cast<std::size_t>(play_->channels());
        std::vector<double> left(block_frames);
        std::vector<double> right(block_frames);
        const double full_scale = settings_.full_scale.in<VoltsPeak>();
        while (true) {
            const Pcm::Moved ready = play_->ready();
            if (ready.outcome != Pcm::Outcome::moved) {
                return mend(ready, true);
            }
            const std::size_t room = std::min(ready.frames, block_frames);
            if (room == 0) {
                return true;
            }
            {
                const std::lock_guard lock{mutex_};
                signal_.fill(Frames{count_.played}, std::span{left}.first(room),
                             std::span{right}.first(room));
            }
            given_.assign(room * width, 0);
            for (std::size_t n = 0; n < room; ++n) {
                given_[n * width + static_cast<std::size_t>(settings_.play[0] - 1)] =
                    digital(left[n], full_scale);
                given_[n * width + static_cast<std::size_t>(settings_.play[1] - 1)] =
                    digital(right[n], full_scale);
            }
            const Pcm::Moved moved = play_->write(given_);
            if (moved.outcome != Pcm::Outcome::moved) {
                return mend(moved, true);
            }
            {
                const std::lock_guard lock{mutex_};
                count_.played += static_cast<std::int64_t>(moved.frames);
            }
            if (moved.frames < room) {
                return true;
            }
        }
    }

    /// Captured frame at which played frame 0 arrives; called under the lock.
    std::int64_t offset() const {
        if (offsets_.empty()) {
            return count_.captured - count_.played;
        }
        std::vector<std::int64_t> sorted(offsets_.begin(), offsets_.end());
        const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
        std::nth_element(sorted.begin(), middle, sorted.end());
        return *middle;
    }

    bool failed() const {
        const std::lock_guard lock{mutex_};
        return failure_.has_value();
    }
    void fail(BenchFailure::Kind kind, std::string answered, Seconds after) {
        const std::lock_guard lock{mutex_};
        if (!failure_) {
            failure_ = failure_of(kind, std::move(answered), after);
        }
    }
    BenchFailure failure_of(BenchFailure::Kind kind, std::string answered, Seconds after) const {
        return {kind, fmt::format("sound card “{}”", settings_.pcm.device), "play and record on",
                std::move(answered), after};
    }

    const CardSettings settings_;
    std::unique_ptr<Pcm> play_;
    std::unique_ptr<Pcm> record_;

    mutable std::mutex mutex_;  // all down to the next gap
    PlayedSignal signal_;
    std::int64_t changed_ = std::numeric_limits<std::int32_t>::min();  // frame of the last change
    std::vector<std::shared_ptr<CardRecording>> recordings_;
    CardCount count_;
    std::deque<std::int64_t> offsets_;
    std::optional<BenchFailure> failure_;
    Watcher watcher_;

    // The card's thread alone.
    std::vector<std::int32_t> taken_;
    std::vector<std::int32_t> given_;
    std::deque<Seconds> restarts_;
    Seconds progress_;

    const int bits_;
    std::atomic<bool> stop_{false};
    std::atomic<bool> over_{false};
};

CardStream::CardStream(std::shared_ptr<Work> work)
    : work_{std::move(work)}, thread_{Work::begin_thread(work_)} {}

CardStream::~CardStream() {
    work_->stop();
    const Seconds since = monotonic_now();
    while (!work_->over() && monotonic_now() - since < longest_goodbye) {
        std::this_thread::sleep_for(std::chrono::milliseconds{2});
    }
    if (work_->over()) {
        thread_.join();
    } else {
        thread_.detach();
    }
}

BenchResult<std::unique_ptr<CardStream>> CardStream::open(CardSettings settings) {
    const auto most = [](const std::array<int, 2>& channels) {
        return std::max(channels[0], channels[1]);
    };
    PcmSettings wanted = settings.pcm;
    wanted.channels = most(settings.play);
    auto play = Pcm::open(wanted, Pcm::Direction::play);
    if (!play) {
        return tl::unexpected(std::move(play.error()));
    }
    wanted.channels = most(settings.record);
    auto record = Pcm::open(wanted, Pcm::Direction::record);
    if (!record) {
        return tl::unexpected(std::move(record.error()));
    }
    const auto work =
        std::make_shared<Work>(std::move(settings), *std::move(play), *std::move(record));
    std::unique_ptr<CardStream> stream{new CardStream{work}};
    if (auto failure = work->wait_until_steady()) {
        return tl::unexpected(std::move(*failure));
    }
    return stream;
}

std::int64_t CardStream::play(Stimulus stimulus) {
    return work_->play(std::move(stimulus));
}
std::shared_ptr<CardRecording> CardStream::record(std::int64_t first, std::size_t frames) {
    return work_->record(first, frames);
}
std::int64_t CardStream::latency() const {
    return work_->latency();
}
CardCount CardStream::count() const {
    return work_->count();
}
std::int64_t CardStream::captured() const {
    return work_->captured();
}
std::optional<BenchFailure> CardStream::failure() const {
    return work_->failure();
}
void CardStream::on_block(Watcher watcher) {
    work_->on_block(std::move(watcher));
}
int CardStream::bits() const {
    return work_->bits();
}
SampleRate CardStream::rate() const {
    return work_->settings().pcm.rate;
}
std::string CardStream::format() const {
    return work_->format();
}

}  // namespace afterload::instruments
