/// The two faces of a sound card: the source that drives the unit and the capture that senses it.
#pragma once

#include "instruments/capture.hpp"
#include "instruments/card/card_stream.hpp"
#include "instruments/clock.hpp"
#include "instruments/range_switch.hpp"
#include "instruments/source.hpp"

#include <cstdint>
#include <functional>
#include <string>

namespace afterload::instruments {

/// The stream of an open card, shared by its two faces.
struct SoundCard {
    std::string name;  ///< the shop's own: "bench card"
    VoltsPeak full_scale{1.0};
    bool stand_in = false;
    std::unique_ptr<CardStream> stream;
    std::int64_t arrival = 0;  ///< captured frame at which what plays now began to arrive
    bool passing = false;      ///< what plays now has an end: a record must hold the whole of it
};

class CardSource final : public Source {
public:
    /// `card` and `clock` outlive it.
    CardSource(SoundCard& card, Clock& clock) : card_{card}, clock_{clock} {}

    [[nodiscard]] std::string identity() const override;
    [[nodiscard]] VoltsPeak full_scale() const override { return card_.full_scale; }
    /// Steady sounds have arrived at the capture, fades and all, when this returns; bursts and
    /// sweeps are on their way.
    [[nodiscard]] Task<BenchResult<void>> play(Stimulus stimulus) override;
    /// Silence has arrived when this returns; one second at the most.
    [[nodiscard]] Task<BenchResult<void>> mute() override;

private:
    [[nodiscard]] Task<BenchResult<void>> arrived(std::string asked);

    SoundCard& card_;
    Clock& clock_;
};

class CardCapture final : public Capture {
public:
    /// Full scale of a range at the unit's terminals.
    using FullScale = std::function<VoltsPeak(const std::string& range)>;

    /// `card`, `clock` and `ranges` outlive it.
    CardCapture(SoundCard& card, Clock& clock, const RangeSwitch& ranges, FullScale full_scale)
        : card_{card}, clock_{clock}, ranges_{ranges}, full_scale_{std::move(full_scale)} {}

    [[nodiscard]] std::string identity() const override;
    [[nodiscard]] SampleRate rate() const override { return card_.stream->rate(); }
    /// From now on; after a burst or sweep was played, from just before its arrival, and a little
    /// longer than asked.
    ///
    /// Reports frames that the card lost, silence it played for want of samples, and a count of
    /// frames that the monotonic clock does not bear out.
    [[nodiscard]] Task<BenchResult<Captured>> record(Seconds length) override;
    [[nodiscard]] Task<BenchResult<std::unique_ptr<CaptureStream>>> stream() override;

private:
    SoundCard& card_;
    Clock& clock_;
    const RangeSwitch& ranges_;
    FullScale full_scale_;
};

}  // namespace afterload::instruments
