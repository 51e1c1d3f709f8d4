/// The stream of a soak: blocks from the card, the same of the stimulus beside them, and the watch
/// that is fed with both.
#pragma once

#include "analysis/soak/stimulus_watch.hpp"
#include "instruments/bench.hpp"
#include "instruments/capture_stream.hpp"
#include "runner/soak/soak_player.hpp"
#include "sequences/bench_file.hpp"

#include <array>
#include <memory>
#include <optional>
#include <vector>

namespace afterload::runner {

/// How much comes in at a time: what reacts, reacts within two of them.
inline constexpr Seconds soak_block{0.1};

class SoakStream {
public:
    SoakStream(instruments::Bench& bench, const sequences::BenchFile& file,
               std::optional<Hertz> mains);

    [[nodiscard]] bool open() const { return stream_ != nullptr; }
    /// Opens the capture at `now` on the soak's time. The watch learns a new reference.
    [[nodiscard]] instruments::Task<instruments::BenchResult<void>> begin(
        Seconds now, analysis::WatchedStimulus watched);
    /// Closes it; the watch waits.
    void end(Seconds now);

    /// The next block, watched. `now` is the soak's time before it.
    [[nodiscard]] instruments::Task<instruments::BenchResult<void>> next(SoakPlayer& player,
                                                                         Seconds now);
    void relearn(analysis::WatchedStimulus watched);
    void drive_changed(Gain change);
    [[nodiscard]] bool learning() const;
    /// By how much the record is behind what is rendered; where the watch knows it.
    [[nodiscard]] std::optional<Frames> latency() const;

    [[nodiscard]] std::vector<analysis::SoakEvent> take_events();
    [[nodiscard]] std::vector<analysis::SoakReading> take_readings();
    /// Of the last block.
    [[nodiscard]] const instruments::CapturedBlock& block() const { return block_; }
    [[nodiscard]] Seconds block_from() const { return block_from_; }
    [[nodiscard]] double loudest() const { return loudest_; }  ///< V rms, mean taken off
    /// Where a moment of the watch lies on the soak's time.
    [[nodiscard]] Seconds soak_time(Seconds of_the_watch) const;
    [[nodiscard]] Seconds watched() const;  ///< in all

    [[nodiscard]] SampleRate rate() const { return rate_; }
    [[nodiscard]] int bits() const { return stream_->bits(); }
    [[nodiscard]] const std::vector<ChannelCalibration>& calibration() const {
        return stream_->calibration();
    }

private:
    struct Anchor {
        Seconds of_the_watch;
        Seconds of_the_soak;
    };
    void make_watch();

    instruments::Bench& bench_;
    SampleRate rate_;
    std::optional<Hertz> mains_;
    std::unique_ptr<instruments::CaptureStream> stream_;
    std::optional<analysis::StimulusWatch> watch_;
    std::vector<VoltsPeak> full_scale_;
    std::vector<Anchor> anchors_;
    instruments::CapturedBlock block_;
    Seconds block_from_;
    Seconds told_time_;  ///< when the watch was last told how late it is
    Seconds away_;       ///< of the bench's clock that the watch is not told of
    Seconds closed_at_;
    std::int64_t frames_before_ = 0;  ///< watched by watches that are gone
    std::uint64_t ids_before_ = 0;
    std::uint64_t highest_id_ = 0;
    std::array<std::vector<double>, 2> volts_;
    std::array<std::vector<double>, 2> played_;
    double loudest_ = 0.0;
};

}  // namespace afterload::runner
