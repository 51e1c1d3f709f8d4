/// The last seconds of a soak, kept so that an event can be stored with what was before and after.
#pragma once

#include "analysis/waveform.hpp"
#include "instruments/capture_stream.hpp"

#include <cstdint>
#include <deque>
#include <optional>
#include <vector>

namespace afterload::runner {

/// Seconds kept before and after an event.
inline constexpr Seconds kept_around{5.0};

/// A record cut out of the stream.
struct CutOut {
    Record record;
    Seconds from;             ///< on the soak's time
    std::vector<int> events;  ///< numbers of the events it holds
    bool whole = true;        ///< false: the stream began or ended within it
};

/// Memory: the longest record that may be cut (30 s), whatever the soak lasts.
class EventCapture {
public:
    EventCapture(SampleRate rate, int bits, std::vector<ChannelCalibration> calibration);

    /// The block that has come in; its first frame was at `from`.
    void add(const instruments::CapturedBlock& block, Seconds from);
    /// An event at `at`: five seconds before and after are to be kept. Events whose seconds touch
    /// share a record, up to half a minute of it.
    void want(int event, Seconds at);
    /// Records that are complete.
    [[nodiscard]] std::vector<CutOut> take();
    /// The stream ends, or breaks here: what is wanted is cut as far as it goes.
    [[nodiscard]] std::vector<CutOut> finish();

private:
    struct Kept {
        Seconds from;
        std::vector<std::vector<std::int32_t>> channels;
    };
    struct Wanted {
        Seconds from;
        Seconds to;
        std::vector<int> events;
    };
    [[nodiscard]] CutOut cut(const Wanted& wanted) const;
    [[nodiscard]] Seconds end() const;

    SampleRate rate_;
    int bits_;
    std::vector<ChannelCalibration> calibration_;
    std::deque<Kept> kept_;
    std::deque<Wanted> wanted_;
};

}  // namespace afterload::runner
