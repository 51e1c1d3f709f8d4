/// What a healthy unit makes of its stimulus, learnt in a reference: a filter, and how far its
/// blocks scatter about it.
#pragma once

#include "analysis/soak/learned_filter.hpp"

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace afterload::analysis {

/// Sums over a short stretch of what was foretold (x) and what came (y), V².
struct StretchSums {
    double xx = 0.0;
    double xy = 0.0;
    double yy = 0.0;
    double peak = 0.0;  ///< largest |x|, V

    /// What is left of y when `gain` times x is taken off.
    [[nodiscard]] double left(double gain) const { return yy - 2.0 * gain * xy + gain * gain * xx; }
    StretchSums& operator+=(const StretchSums& more);
};

/// A block of one channel against what was foretold.
struct GainBlock {
    static constexpr std::size_t length = 160;  ///< samples of the reduced rate
    static constexpr std::size_t stretches = 16;
    std::array<StretchSums, stretches> stretch{};
    StretchSums all;
    double gain = 0.0;  ///< of y over what was foretold; 0 where nothing was
    /// Of y behind where it was learnt, reduced samples, while it is below one.
    double delay = 0.0;
    /// A note that is new to the filter may make so much of `delay` where there is none, reduced
    /// samples: much where only low notes are played.
    double delay_doubt = 0.0;
    /// What may be left because the filter never heard the like of what is played, V².
    double unheard = 0.0;
};

class GainModel {
public:
    static constexpr std::size_t taps = 32;
    /// The record is given so many samples late, so that the filter may look ahead.
    static constexpr std::size_t ahead = 12;

    /// Learns from x and y of one length, whole blocks; `drift` is by how much y falls behind x, in
    /// samples a sample: the filter is that of the end. A channel whose x is silent learns its
    /// noise alone.
    GainModel(std::span<const double> x, std::span<const double> y, double drift);
    GainModel() = default;

    /// y stands `delay` reduced samples, below one, further behind than where it was learnt.
    void stand_at(double delay);

    /// Block of y against x, which holds taps - 1 samples more, the older ones first.
    [[nodiscard]] GainBlock block(std::span<const double> x, std::span<const double> y) const;

    /// Learns from a sound block as well, now and then: what a stimulus holds is known as it comes.
    /// x as for block(); y stands `gain` times as high as in the reference, and where stand_at()
    /// says.
    void learn_more(std::span<const double> x, std::span<const double> y, double gain);

    /// What is played is new: no longer waits to learn from it.
    void hurry() { wait_ = 0; }

    /// A block was not learnt from: what follows does not join what came before.
    void skip();

    [[nodiscard]] bool driven() const { return !filter_.taps.empty(); }
    /// Relative standard deviation of a block's gain in which `foretold` (V², times the gain
    /// squared) is played.
    [[nodiscard]] double sigma(double foretold) const;
    /// What is left of a healthy block, V².
    [[nodiscard]] double usual_rest(double foretold) const { return rest_ * foretold + floor_; }
    /// A healthy block was never seen to leave more than so many times the usual.
    [[nodiscard]] double most_rest() const { return most_rest_; }
    /// What may be left of a block beyond the usual while what is played may be new to the filter,
    /// V².
    [[nodiscard]] double unknown(const GainBlock& block) const;
    [[nodiscard]] double floor() const { return floor_; }
    /// Foretold volts squared over those of the stimulus, in the reference.
    [[nodiscard]] double power_gain() const { return power_gain_; }
    /// Delay of y that the blocks still show, samples a sample: of a clock that runs away.
    [[nodiscard]] double drift() const { return drift_; }

private:
    void move_filter();
    void learn_scatter(std::span<const double> x, std::span<const double> y);

    FilterLearner learner_{taps, ahead, 1e-5};
    LearnedFilter filter_;
    LearnedFilter moved_;      // filter_, later by at_
    double at_ = 0.0;          // where y stands, to least_move
    double chunk_from_ = 0.0;  // where the chunk's first block stood
    int chunks_ = 0;           // that were learnt from
    int wait_ = 0;             // blocks until the next is kept
    std::vector<double> x_chunk_;
    std::vector<double> y_chunk_;
    double rest_ = 0.0;   // of what is foretold
    double floor_ = 0.0;  // V² of a block, whatever is played
    double scatter_ = 0.0;
    double most_rest_ = 4.0;
    double power_gain_ = 0.0;
    double drift_ = 0.0;
};

/// x later by `late` + `drift` · (n - end), samples: what was played, on the clock of what was
/// recorded. Silent before and after, as resampled() has it.
[[nodiscard]] std::vector<double> on_other_clock(std::span<const double> x, double drift,
                                                 double late = 0.0);

}  // namespace afterload::analysis
