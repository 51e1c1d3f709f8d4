/// A record without an end: blocks back to back, for who watches for hours.
#pragma once

#include "analysis/capture_fault.hpp"
#include "analysis/waveform.hpp"
#include "instruments/async.hpp"
#include "instruments/failure.hpp"

#include <cstdint>
#include <vector>

namespace afterload::instruments {

/// Frames of both sense channels (left, right) that follow those of the block before without a gap.
struct CapturedBlock {
    std::int64_t first = 0;  ///< number of its first frame since the stream was opened
    std::vector<std::vector<std::int32_t>> channels;
    std::vector<CaptureFault> reported;  ///< what the instrument noticed; places within the block
    Seconds came_by;  ///< on the bench's clock, when the last of these frames had come in
};

/// What is open while it lives. Ranges are not switched meanwhile; what plays may change.
class CaptureStream {
public:
    CaptureStream() = default;
    CaptureStream(const CaptureStream&) = delete;
    CaptureStream& operator=(const CaptureStream&) = delete;
    virtual ~CaptureStream() = default;

    [[nodiscard]] virtual int bits() const = 0;
    /// Of the range that was selected when the stream was opened, one a channel.
    [[nodiscard]] virtual const std::vector<ChannelCalibration>& calibration() const = 0;

    /// The next `frames` frames into `block`, whose memory serves again. They wait for who is late
    /// by up to a few seconds; who is later than that has lost some, and the stream has failed.
    ///
    /// Fails  no_reply: the instrument gives no frames any more; closed: it is gone; unexpected:
    ///        frames were lost because nobody took them in time. Nothing comes after a failure.
    [[nodiscard]] virtual Task<BenchResult<void>> next(Frames frames, CapturedBlock& block) = 0;
};

}  // namespace afterload::instruments
