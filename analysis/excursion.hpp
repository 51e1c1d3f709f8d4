/// A quantity read in windows that follow each other, and when it stood above what it should be.
#pragma once

#include <optional>

namespace afterload::analysis {

/// One window of a watched quantity.
struct WatchedWindow {
    double start_s = 0.0;
    double length_s = 0.0;
    double value = 0.0;
};

class Excursion {
public:
    struct Told {
        double start_s = 0.0;
        double end_s = 0.0;
        double value = 0.0;  ///< while it lasted, the partial windows at its edges left out
    };

    /// It counts from `to_open` windows on, or one that rises by `strong` times the threshold; it
    /// is over after `to_close` windows below half the threshold.
    Excursion(int to_open, int to_close, double strong)
        : to_open_{to_open}, to_close_{to_close}, strong_{strong} {}

    /// Takes the next window. `base` is what the value should be, `threshold` how far above it is
    /// too far. A window that holds it in part tells by its value where in it the edge lies.
    std::optional<Told> add(const WatchedWindow& window, double base, double threshold);

    /// The windows end.
    [[nodiscard]] std::optional<Told> finish();

    [[nodiscard]] bool open() const { return count_ > 0; }

private:
    std::optional<Told> close();

    int to_open_;
    int to_close_;
    double strong_;
    double base_ = 0.0;
    double threshold_ = 0.0;
    WatchedWindow before_;  // the last one below the threshold
    WatchedWindow first_;
    WatchedWindow last_;
    WatchedWindow after_;
    double sum_ = 0.0;
    double peak_ = 0.0;
    long count_ = 0;
    int below_ = 0;
};

}  // namespace afterload::analysis
