/// The lowest band of one channel: its mean and its mains lines, freed of what the stimulus makes
/// there.
#pragma once

#include "analysis/soak/learned_filter.hpp"

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace afterload::analysis {

class SlowBand {
public:
    static constexpr std::size_t taps = 64;
    static constexpr std::size_t ahead =
        4;  ///< samples the filter may look ahead; readings are so late
    static constexpr std::size_t window = 40;  ///< samples in which lines are told apart

    /// `rate_hz` of this band. `mains_hz` 0: no lines.
    SlowBand(double rate_hz, double mains_hz);

    /// Learns from x and y of one length; x empty: nothing is played.
    void learn(std::span<const double> x, std::span<const double> y);
    [[nodiscard]] bool learnt() const { return learnt_; }

    struct Reading {
        double mean = 0.0;    ///< V, of the last `window` samples, against the reference
        double hum = 0.0;     ///< V rms, mains lines together, of the window
        double fresh = 0.0;   ///< V, mean of the last quarter of the window
        double played = 0.0;  ///< V rms, what the stimulus makes in this band, of late
        /// V rms, what may be left of it because the filter never heard the like
        double unheard = 0.0;
    };
    /// Takes the next samples; y stands `gain` times as high as when it was learnt. `x` may be
    /// empty in silence. Nothing until the window is full.
    /// Sound samples are also learnt from.
    std::optional<Reading> add(std::span<const double> x, std::span<const double> y, double gain,
                               bool sound);
    /// The stimulus is on another alignment: its history is `x`.
    void realign(std::span<const double> x);

    /// What a healthy unit never showed: of the mains lines and of Reading::fresh. More is played,
    /// more is left that the filter does not know yet.
    [[nodiscard]] double most_hum(const Reading& reading) const;
    [[nodiscard]] double most_fresh(const Reading& reading) const;
    [[nodiscard]] double reference_hum() const { return hum_; }
    [[nodiscard]] double reference_mean() const { return mean_; }

private:
    /// What may be left of what is played, of which a healthy unit left `share` in the reference.
    [[nodiscard]] double unknown(const Reading& reading, double share) const;
    [[nodiscard]] Reading read(std::span<const double> rest) const;
    void learn_more();
    void learn_scatter(std::vector<Reading> readings, std::span<const double> y);
    [[nodiscard]] double line_power(std::span<const double> rest) const;

    std::vector<double> hertz_;  // lines
    double rate_hz_;
    std::vector<double> columns_;  // pseudo-inverse, two rows a line, `window` each
    FilterLearner learner_;
    LearnedFilter filter_;
    bool learnt_ = false;
    int chunks_ = 0;            // that were learnt from
    std::vector<double> x_;     // history
    std::vector<double> late_;  // y that waits for the filter to look ahead
    std::vector<double> rest_;  // last window
    std::vector<double> x_chunk_;
    std::vector<double> y_chunk_;
    double played_ = 0.0;   // V², running mean over a third of a second
    double unheard_ = 0.0;  // likewise
    double mean_ = 0.0;
    double hum_ = 0.0;        // quiet windows
    double hum_sigma_ = 0.0;  // likewise
    double fresh_sigma_ = 0.0;
    double hum_share_ = 0.0;  // of what is played, the most that was left
    double fresh_share_ = 0.0;
};

}  // namespace afterload::analysis
