/// What a sound card plays, sample by sample: one stimulus after another, each change faded so that
/// nothing clicks.
#pragma once

#include "analysis/stimulus.hpp"

#include <array>
#include <span>

namespace afterload::instruments {

class PlayedSignal {
public:
    explicit PlayedSignal(SampleRate rate);

    /// From frame `at` on `next` plays; its time begins there, or goes on where only the level is
    /// another (same_sound()). What played before falls over fade(), the steady sines of `next`
    /// rise over as much. Bursts and sweeps have fades of their own.
    void change(Stimulus next, Frames at);

    /// Volts of both channels, `first` the number of the first frame; none before the last change.
    void fill(Frames first, std::span<double> left, std::span<double> right) const;

    [[nodiscard]] Frames fade() const { return fade_; }  ///< five milliseconds

private:
    struct Played {
        Stimulus steady;   ///< sines that have no end
        Stimulus passing;  ///< bursts and sweeps
        Frames since{0};
    };
    void add(const Played& played, std::size_t channel, Frames first, std::span<double> out,
             bool rising) const;

    SampleRate rate_;
    Frames fade_;
    Frames changed_{0};
    Played now_;
    Played before_;
};

}  // namespace afterload::instruments
