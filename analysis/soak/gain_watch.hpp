/// The gain of one channel followed from block to block: what it does is told as events.
#pragma once

#include "analysis/soak/event_book.hpp"
#include "analysis/soak/gain_model.hpp"

#include <cstdint>
#include <deque>
#include <optional>

namespace afterload::analysis {

class GainWatch {
public:
    /// `least_step`: of the gain, relative; `stretch_s`: how long one of a block's stretches lasts.
    GainWatch(int channel, double least_step, double stretch_s);

    enum class Found {
        usual,       ///< as a healthy unit has it, or a gain that is told
        unwatched,   ///< too little is played
        unheard,     ///< what is played is new to the model
        incoherent,  ///< what came is not what was played, at any gain
    };
    /// Takes a block that begins at `start_s`. What is no change of the gain is only reported:
    /// settle_incoherent() then says what it is.
    Found add(const GainModel& model, const GainBlock& block, double start_s, EventBook& book);

    /// The block that add() called incoherent is the unit's: noise, or distortion where it comes
    /// with the peaks. One alone is told, once it is over, when it was
    /// loud: a crackle.
    void settle_incoherent(const GainModel& model, const GainBlock& block, double start_s,
                           EventBook& book);
    /// The block that add() called incoherent held a brief change of the gain.
    void tell_brief(double start_s, double end_s, double ratio, EventBook& book);
    /// It was not the unit's: nothing is counted.
    void forget_incoherent() { rough_ = 0; }

    void finish(double end_s, EventBook& book);

    /// Gain that is expected of the next block, re the reference.
    [[nodiscard]] double expected() const;
    /// Does no event of the gain last?
    [[nodiscard]] bool calm() const { return dropout_ == 0 && rough_event_ == 0; }
    [[nodiscard]] bool in_dropout() const { return dropout_ != 0; }
    /// The slow course of the gain, events left out.
    [[nodiscard]] double course() const { return course_; }

private:
    struct Stretch {
        StretchSums sums;
        double start_s = 0.0;
        double expected = 0.0;  // gain, when it came
        bool told = false;      // it belongs to what was told
    };
    struct Change {
        std::size_t first = 0;  // of stretches_
        std::size_t end = 0;
        double gain = 0.0;
    };
    [[nodiscard]] std::optional<Change> best_change(const GainModel& model) const;
    bool explain(const GainModel& model, EventBook& book);
    void lasting(double gain, double start_s, EventBook& book);
    void end_level(double end_s, EventBook& book);
    void smooth(double start_s, EventBook& book);
    [[nodiscard]] WatchEvent rough(double end_s) const;

    int channel_;
    double least_step_;
    double stretch_s_;
    double course_ = 1.0;
    double plateau_ = 1.0;  // of the level event that lasts, re course_
    std::uint64_t level_ = 0;
    double level_start_s_ = 0.0;
    std::uint64_t dropout_ = 0;
    double dropout_start_s_ = 0.0;
    double dropout_gain_ = 0.0;
    std::deque<Stretch> stretches_;

    // What is neither gain nor stimulus.
    int rough_ = 0;   // blocks in a row
    int smooth_ = 0;  // likewise
    double rough_start_s_ = 0.0;
    double rough_power_ = 0.0;  // sums over the blocks of the event
    double rough_foretold_ = 0.0;
    double rough_blocks_ = 0.0;
    bool rough_strong_ = false;
    double loud_share_ =
        0.0;  // of what is left, in the half of the stretches with the higher peaks
    WatchEvent::Kind rough_kind_ = WatchEvent::Kind::noise;
    std::uint64_t rough_event_ = 0;
};

}  // namespace afterload::analysis
