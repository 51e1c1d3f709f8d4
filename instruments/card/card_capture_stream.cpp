#include "instruments/card/card_capture_stream.hpp"

#include "instruments/monotonic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdint>
#include <mutex>
#include <utility>

namespace afterload::instruments {

namespace {

constexpr Seconds look{0.004};        // between two looks at what has come in
constexpr Seconds kept{4.0};          // for who is late
constexpr Seconds longest_wait{0.5};  // for frames beyond their own time: then the card is gone

}  // namespace

/// A ring that the card's thread fills and the stream empties.
struct CardCaptureStream::Held {
    std::mutex mutex;
    std::array<std::vector<std::int32_t>, 2> ring;
    std::int64_t first = -1;  ///< captured frame that the stream begins with
    std::int64_t in = 0;      ///< frames since then
    std::int64_t out = 0;     ///< of them taken
    bool overrun = false;

    void take(std::int64_t at, const std::vector<std::vector<std::int32_t>>& channels) {
        const std::lock_guard lock{mutex};
        first = first < 0 ? at : first;
        const auto size = static_cast<std::int64_t>(ring[0].size());
        const auto count = static_cast<std::int64_t>(channels.front().size());
        if (overrun || in - out + count > size) {
            overrun = true;
            return;
        }
        for (std::int64_t i = 0; i < count; ++i) {
            const auto place = static_cast<std::size_t>((in + i) % size);
            ring[0][place] = channels[0][static_cast<std::size_t>(i)];
            ring[1][place] = channels[1][static_cast<std::size_t>(i)];
        }
        in += count;
    }
};

CardCaptureStream::CardCaptureStream(SoundCard& card, Clock& clock,
                                     std::vector<ChannelCalibration> calibration)
    : card_{card},
      clock_{clock},
      calibration_{std::move(calibration)},
      held_{std::make_shared<Held>()} {
    const auto size = static_cast<std::size_t>(frames_in(kept, card.stream->rate()).count());
    held_->ring = {std::vector<std::int32_t>(size), std::vector<std::int32_t>(size)};
    const CardCount count = card.stream->count();
    lost_told_ = count.lost_at.size();
    starved_told_ = count.starved_at.size();
    card.stream->on_block(
        [held = held_](std::int64_t first, const std::vector<std::vector<std::int32_t>>& channels) {
            held->take(first, channels);
        });
}

CardCaptureStream::~CardCaptureStream() {
    card_.stream->on_block({});
}

Task<BenchResult<void>> CardCaptureStream::next(Frames frames, CapturedBlock& block) {
    const std::int64_t count = frames.count();
    const Seconds since = clock_.now();
    const Seconds due = duration(frames, card_.stream->rate()) + longest_wait;
    const auto failed = [&](BenchFailure::Kind kind, std::string answered) {
        return tl::unexpected<BenchFailure>(
            BenchFailure{kind, card_.name, "record on", std::move(answered), clock_.now() - since});
    };
    while (true) {
        bool enough = false;
        bool overrun = false;
        {
            const std::lock_guard lock{held_->mutex};
            enough = held_->in - held_->out >= count;
            overrun = held_->overrun;
        }
        if (overrun) {
            co_return failed(BenchFailure::Kind::lost,
                             "its frames were not taken in time: the program was held up for "
                             "seconds");
        }
        if (enough) {
            break;
        }
        if (auto failure = card_.stream->failure()) {
            failure->asked = "record on";
            co_return tl::unexpected<BenchFailure>(std::move(*failure));
        }
        if (clock_.now() - since > due) {
            co_return failed(BenchFailure::Kind::no_reply, "no frames come in any more");
        }
        co_await clock_.sleep(look);
    }
    block.first = taken_;
    block.reported.clear();
    block.channels.resize(2);
    std::int64_t first = 0;
    {
        const std::lock_guard lock{held_->mutex};
        const auto size = static_cast<std::int64_t>(held_->ring[0].size());
        first = held_->first + held_->out;
        for (std::size_t c = 0; c < 2; ++c) {
            block.channels[c].resize(static_cast<std::size_t>(count));
            for (std::int64_t i = 0; i < count; ++i) {
                block.channels[c][static_cast<std::size_t>(i)] =
                    held_->ring[c][static_cast<std::size_t>((held_->out + i) % size)];
            }
        }
        held_->out += count;
    }
    taken_ += count;
    block.came_by = clock_.now();
    report(first, count, block);
    co_return BenchResult<void>{};
}

void CardCaptureStream::report(std::int64_t first, std::int64_t frames, CapturedBlock& block) {
    const CardCount count = card_.stream->count();
    const auto place = [&](std::int64_t at) {
        const std::int64_t within = std::clamp<std::int64_t>(at - first, 0, frames);
        return duration(Frames{within}, card_.stream->rate());
    };
    for (; lost_told_ < count.lost_at.size(); ++lost_told_) {
        CaptureFault fault;
        fault.kind = CaptureFaultKind::gap;
        fault.start = place(count.lost_at[lost_told_]);
        fault.note = "the card says that it lost frames";
        block.reported.push_back(std::move(fault));
    }
    for (; starved_told_ < count.starved_at.size(); ++starved_told_) {
        CaptureFault fault;
        fault.kind = CaptureFaultKind::gap;
        fault.start = place(count.starved_at[starved_told_]);
        fault.note = "the card had nothing to play for a moment";
        block.reported.push_back(std::move(fault));
    }
}

}  // namespace afterload::instruments
