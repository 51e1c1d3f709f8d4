#include "runner/soak/event_capture.hpp"

#include <algorithm>
#include <utility>

namespace afterload::runner {

namespace {

constexpr Seconds longest{30.0};

}  // namespace

EventCapture::EventCapture(SampleRate rate, int bits, std::vector<ChannelCalibration> calibration)
    : rate_{rate}, bits_{bits}, calibration_{std::move(calibration)} {}

Seconds EventCapture::end() const {
    return kept_.empty() ? Seconds{0.0}
                         : kept_.back().from + duration(Frames{static_cast<std::int64_t>(
                                                            kept_.back().channels.front().size())},
                                                        rate_);
}

void EventCapture::add(const instruments::CapturedBlock& block, Seconds from) {
    // Memory of the oldest serves again once nobody can want it any more.
    const Seconds oldest_wanted =
        wanted_.empty() ? from - kept_around - Seconds{1.0} : wanted_.front().from;
    Kept fresh;
    while (!kept_.empty() &&
           kept_.front().from + duration(Frames{static_cast<std::int64_t>(
                                             kept_.front().channels.front().size())},
                                         rate_) <
               oldest_wanted) {
        fresh = std::move(kept_.front());
        kept_.pop_front();
    }
    fresh.from = from;
    fresh.channels.resize(block.channels.size());
    for (std::size_t c = 0; c < block.channels.size(); ++c) {
        fresh.channels[c].assign(block.channels[c].begin(), block.channels[c].end());
    }
    kept_.push_back(std::move(fresh));
}

void EventCapture::want(int event, Seconds at) {
    const bool known = std::any_of(wanted_.begin(), wanted_.end(), [&](const Wanted& one) {
        return std::find(one.events.begin(), one.events.end(), event) != one.events.end();
    });
    if (known) {
        return;
    }
    const Seconds from = at - kept_around;
    const Seconds to = at + kept_around;
    if (!wanted_.empty() && from <= wanted_.back().to && to - wanted_.back().from <= longest) {
        wanted_.back().to = std::max(wanted_.back().to, to);
        wanted_.back().events.push_back(event);
        return;
    }
    wanted_.push_back({from, to, {event}});
}

CutOut EventCapture::cut(const Wanted& wanted) const {
    CutOut out;
    out.events = wanted.events;
    out.record.rate = rate_;
    out.record.bits = bits_;
    out.record.calibration = calibration_;
    out.record.channels.resize(calibration_.size());
    bool first = true;
    Seconds reached = wanted.from;
    for (const Kept& block : kept_) {
        const auto size = static_cast<std::int64_t>(block.channels.front().size());
        const std::int64_t begin =
            std::clamp<std::int64_t>(frames_in(wanted.from - block.from, rate_).count(), 0, size);
        const std::int64_t stop =
            std::clamp<std::int64_t>(frames_in(wanted.to - block.from, rate_).count(), 0, size);
        if (begin >= stop) {
            continue;
        }
        if (first) {
            out.from = block.from + duration(Frames{begin}, rate_);
            out.whole = out.from <= wanted.from + Seconds{0.01};
            first = false;
        }
        for (std::size_t c = 0; c < out.record.channels.size() && c < block.channels.size(); ++c) {
            out.record.channels[c].insert(out.record.channels[c].end(),
                                          block.channels[c].begin() + begin,
                                          block.channels[c].begin() + stop);
        }
        reached = block.from + duration(Frames{stop}, rate_);
    }
    out.whole = out.whole && !first && reached >= wanted.to - Seconds{0.01};
    return out;
}

std::vector<CutOut> EventCapture::take() {
    std::vector<CutOut> done;
    while (!wanted_.empty() && end() >= wanted_.front().to) {
        done.push_back(cut(wanted_.front()));
        wanted_.pop_front();
    }
    return done;
}

std::vector<CutOut> EventCapture::finish() {
    std::vector<CutOut> done;
    for (const Wanted& wanted : wanted_) {
        done.push_back(cut(wanted));
    }
    wanted_.clear();
    kept_.clear();
    return done;
}

}  // namespace afterload::runner
