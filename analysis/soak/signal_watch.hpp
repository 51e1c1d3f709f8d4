/// The watch of a signal that is no tone: against what was played, or against silence.
#pragma once

#include "analysis/soak/gain_model.hpp"
#include "analysis/soak/gain_watch.hpp"
#include "analysis/soak/reduced_stream.hpp"
#include "analysis/soak/slow_band.hpp"
#include "analysis/soak/slow_watch.hpp"
#include "analysis/soak/watch_section.hpp"

#include <cstdint>
#include <optional>
#include <vector>

namespace afterload::analysis {

class SignalWatch : public WatchSection {
public:
    /// Begins at sample `first`. `silent`: nothing is played.
    SignalWatch(const StimulusWatchSettings& settings, std::size_t stimuli, std::int64_t first,
                bool silent);

    void advance(WatchedStreams& streams, EventBook& book) override;
    [[nodiscard]] std::int64_t oldest_needed() const override;
    void finish(WatchedStreams& streams, EventBook& book) override;
    void read(SoakReading& reading) override;
    [[nodiscard]] bool learning() const override { return phase_ != Phase::watching; }
    [[nodiscard]] std::optional<double> latency_frames() const override;

private:
    enum class Phase { aligning, learning, watching };
    /// What a second holds of one channel.
    struct Sums {
        double xx = 0.0;
        double xy = 0.0;
        double gains = 0.0;
        double gain_squares = 0.0;
        double watched = 0.0;  // blocks
        double rest = 0.0;
        double blocks = 0.0;
        double offset = 0.0;
        double hum = 0.0;
        double slow = 0.0;  // readings
    };
    struct Channel {
        ReducedStream record;
        GainModel model;
        GainWatch gain;
        SlowBand slow;
        SlowWatch slow_watch;
        std::vector<double> fast_kept;  // while learning
        std::vector<double> slow_kept;
        GainBlock block;  // of now
        GainWatch::Found found = GainWatch::Found::usual;
        double drift = 0.0;     // of the delay, frames a block
        double delay = 0.0;     // its slow course, frames
        double raw_gain = 0.0;  // of the samples' differences, now and then
        Sums sums;

        /// Frames by which the block is seen to stand off its course, and how many of them may be
        /// the note's and not the delay's.
        [[nodiscard]] double jump() const { return frames(block.delay) - delay; }
        [[nodiscard]] double jump_doubt() const { return frames(block.delay_doubt); }
        [[nodiscard]] double frames(double reduced) const {
            return reduced * static_cast<double>(record.factor());
        }
    };
    struct Played {
        ReducedStream stream;
        std::vector<double> history;  // of the filter, then the block
        std::vector<double> fast_kept;
        std::vector<double> slow_kept;
    };

    [[nodiscard]] double seconds(std::int64_t frame) const {
        return static_cast<double>(frame) / rate_;
    }
    [[nodiscard]] double block_start_s() const;
    [[nodiscard]] double stretch_s() const;
    [[nodiscard]] std::int64_t played_at(std::int64_t frame, std::int64_t latency) const;
    bool find_latency(WatchedStreams& streams);
    void reduce(WatchedStreams& streams);
    void keep_block();
    void learn(EventBook& book);
    [[nodiscard]] double learnt_drift() const;
    void watch_block(WatchedStreams& streams, EventBook& book);
    void judge(WatchedStreams& streams, EventBook& book);
    void judge_lost(WatchedStreams& streams, EventBook& book);
    void take_raw_gains(WatchedStreams& streams);
    bool tell_brief(WatchedStreams& streams, std::size_t channel, EventBook& book);
    [[nodiscard]] bool all_lost() const;
    bool find_slip(WatchedStreams& streams, EventBook& book);
    bool find_repetition(WatchedStreams& streams, EventBook& book);
    void end_frozen(EventBook& book);
    void follow_clock(WatchedStreams& streams);
    void learn_more(std::size_t channel);
    void watch_slow_bands(bool watched, EventBook& book);
    void realign(WatchedStreams& streams, std::int64_t latency);
    [[nodiscard]] std::vector<Played> played_before(WatchedStreams& streams, std::int64_t latency,
                                                    std::int64_t blocks) const;
    [[nodiscard]] std::vector<GainBlock> blocks_at(WatchedStreams& streams, std::int64_t latency);
    [[nodiscard]] std::int64_t border(WatchedStreams& streams, std::int64_t before,
                                      std::int64_t after) const;
    void sum_up(Channel& channel);

    StimulusWatchSettings settings_;
    double rate_;
    bool silent_;
    std::vector<Channel> channels_;
    std::vector<Played> played_;
    std::int64_t block_;  // frames of one
    Phase phase_;
    std::int64_t first_;
    std::int64_t next_;           // first frame of the next block
    std::int64_t latency_ = 0;    // frames that the record stands behind the stimulus
    std::int64_t found_lag_ = 0;  // the same, as align() finds it
    int to_skip_ = 0;             // blocks until the filters have come in
    std::size_t loudest_ = 0;     // of the driven channels
    int lost_ = 0;                // blocks in a row in which all driven channels are incoherent
    std::int64_t lost_from_ = 0;
    int since_raw_gains_ = 1000;  // blocks
    std::uint64_t frozen_ = 0;
    double frozen_size_ = 0.0;
};

}  // namespace afterload::analysis
