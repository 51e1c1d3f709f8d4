/// The simulated source: renders a stimulus on its own clock, with its noise and its own
/// distortion.
#pragma once

#include "analysis/stimulus.hpp"
#include "instruments/half_band.hpp"
#include "instruments/noise_source.hpp"
#include "instruments/simulation.hpp"

#include <array>
#include <cstdint>
#include <span>
#include <vector>

namespace afterload::instruments {

class SourceModel {
public:
    explicit SourceModel(const Simulation& simulation);

    /// What plays from now on: the card itself, or the generator of the simulation.
    void hand_over(const Simulation& simulation, bool to_generator);
    /// From frame `now` on. Where only the level is another (same_sound()), its time goes on.
    void play(const Stimulus& stimulus, std::int64_t now);
    [[nodiscard]] bool playing() const { return !stimulus_.silent(); }

    /// From frame `now` on the last `frames` that played come again and again, until something is
    /// played anew; 0: the next time they may again. Told once, however often it is said.
    void freeze(std::int64_t frames, std::int64_t now);

    /// Open-circuit volts from frame `first` on, interleaved at the card's rate.
    void render(std::int64_t first, std::span<double> frames);
    /// Those frames at twice the rate, bent as the source bends them.
    void put_out(std::span<const double> frames, std::span<double> out);

private:
    void set_bend(std::size_t channel, double peak);
    void add_played(std::size_t channel, std::int64_t first, std::span<double> out) const;

    Stimulus stimulus_;
    SampleRate rate_;
    double clock_ppm_;
    std::int64_t started_ = 0;
    double noise_ratio_;  ///< standard deviation re the rms that plays
    double distortion_;
    double level_;                  ///< 1 + the level's error
    std::array<double, 2> sign_{};  ///< of second and third harmonic
    std::array<double, 2> noise_{};
    std::array<double, 2> second_{};
    std::array<double, 2> third_{};
    std::array<double, 2> peak_{};       ///< of what plays
    std::array<double, 2> tail_peak_{};  ///< of what played a moment ago
    std::int64_t tail_left_ = 0;         ///< frames for which that still matters
    NoiseSource random_;
    RateDoubler doubler_;
    bool may_freeze_ = true;
    std::int64_t frozen_frames_ = 0;  ///< 0: it plays on
    std::int64_t frozen_from_ = 0;
    std::int64_t ahead_first_ = 0;  ///< frame of the first rendered one that is kept
    std::size_t ahead_count_ = 0;
    std::array<std::vector<double>, 2> ahead_;
};

}  // namespace afterload::instruments
