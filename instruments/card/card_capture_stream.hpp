/// Blocks of a sound card without a gap, in memory that does not grow.
#pragma once

#include "instruments/capture_stream.hpp"
#include "instruments/card/sound_card.hpp"
#include "instruments/clock.hpp"

#include <memory>
#include <vector>

namespace afterload::instruments {

/// Takes every frame that the card's thread hands over from its opening on and keeps it until it is
/// asked for, up to four seconds. One at a time on a card.
class CardCaptureStream final : public CaptureStream {
public:
    /// `card` and `clock` outlive it.
    CardCaptureStream(SoundCard& card, Clock& clock, std::vector<ChannelCalibration> calibration);
    ~CardCaptureStream() override;

    [[nodiscard]] int bits() const override { return card_.stream->bits(); }
    [[nodiscard]] const std::vector<ChannelCalibration>& calibration() const override {
        return calibration_;
    }
    /// Reports the card's own word on frames it lost and on playing that it was starved of.
    [[nodiscard]] Task<BenchResult<void>> next(Frames frames, CapturedBlock& block) override;

private:
    struct Held;
    void report(std::int64_t first, std::int64_t frames, CapturedBlock& block);

    SoundCard& card_;
    Clock& clock_;
    std::vector<ChannelCalibration> calibration_;
    std::shared_ptr<Held> held_;  ///< shared with the card's thread
    std::int64_t taken_ = 0;
    std::size_t lost_told_ = 0;
    std::size_t starved_told_ = 0;
};

}  // namespace afterload::instruments
