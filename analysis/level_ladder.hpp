/// Level events of one channel out of the steps its level takes.
#pragma once

#include "analysis/watch_event.hpp"

#include <vector>

namespace afterload::analysis {

/// The levels a channel has left, each until it comes back: a dropout inside a reduced level ends
/// at the reduced level, and the reduced level lasts on.
class LevelLadder {
public:
    explicit LevelLadder(int channel) : channel_{channel} {}

    /// Smallest change that is an event: 0.3 dB, less what noise may take off it.
    static constexpr double least_change_db = 0.29;
    /// Is `ratio` of two levels such a change?
    [[nodiscard]] static bool changed(double ratio);
    /// A level this far below is a dropout: 20 dB.
    static constexpr double dropout_ratio = 0.1;

    /// The level went from `before` to `after` (peak volts; 0: nothing is left) at `time_s`. Events
    /// that end with it go to `events`.
    void step(double time_s, double before, double after, std::vector<WatchEvent>& events);

    /// The level moved slowly to `level`.
    void follow(double level) { current_ = level; }

    /// The capture ends: what lasts is told up to `time_s`.
    void finish(double time_s, std::vector<WatchEvent>& events);

    /// Does any event last?
    [[nodiscard]] bool open() const { return !open_.empty(); }
    /// Is the innermost event a dropout, and since when?
    [[nodiscard]] bool in_dropout() const { return !open_.empty() && open_.back().dropout; }
    [[nodiscard]] double last_step_s() const { return open_.empty() ? 0.0 : open_.back().start_s; }
    /// Takes the innermost event back: the signal was at its end.
    void forget_last() { open_.pop_back(); }

private:
    struct Left {
        double level = 0.0;  // that was left
        double start_s = 0.0;
        double change_db = 0.0;
        bool dropout = false;
    };
    void end_last(double time_s, std::vector<WatchEvent>& events);

    int channel_;
    double current_ = 0.0;
    std::vector<Left> open_;
};

}  // namespace afterload::analysis
