/// What plays while a unit soaks, how high, and the same as the watch is to know it.
#pragma once

#include "analysis/soak/stimulus_watch.hpp"
#include "analysis/stimulus.hpp"
#include "runner/driver.hpp"
#include "sequences/soak.hpp"

#include <array>
#include <cstdint>
#include <memory>
#include <span>
#include <vector>

namespace afterload::runner {

/// One period of what a soak plays where it is no sine: no magnitude above 1.
struct SoakLoop {
    std::array<std::shared_ptr<const std::vector<double>>, 2> samples;
    std::array<double, 2> rms{};
};

/// 20 Hz to 20 kHz (or 0.42 of the rate), peaks four times the rms, the same in both channels.
[[nodiscard]] SoakLoop pink_soak_loop(SampleRate rate);

class SoakPlayer {
public:
    enum class What { nothing, sine, loop };

    /// `loop` is needed where What::loop is ever played.
    SoakPlayer(Driver& driver, Hertz frequency, SampleRate rate, SoakLoop loop)
        : driver_{driver}, frequency_{frequency}, rate_{rate}, loop_{std::move(loop)} {}

    /// Plays at `drive` (open-circuit V rms a channel) where the unit is expected to put out
    /// `output` (V rms). What plays already goes on where it is, at the new level.
    /// Fails as Driver::play(), with nothing changed.
    [[nodiscard]] instruments::Task<RunResult<void>> play(What what, std::array<double, 2> drive,
                                                          std::array<double, 2> output);
    [[nodiscard]] instruments::Task<RunResult<void>> mute();

    [[nodiscard]] What what() const { return what_; }
    /// Rms of a sine of the same peak over the rms: 1 of a sine.
    [[nodiscard]] double crest(What what) const;
    [[nodiscard]] const std::array<double, 2>& drive() const { return drive_; }
    [[nodiscard]] analysis::WatchedStimulus watched() const;

    /// Volts that the source plays in the next frames of both channels; both spans of one length.
    void render(std::span<double> left, std::span<double> right);
    /// What was rendered is that many frames ahead of what came in: rendered anew from there.
    void stand_back(Frames frames) { since_ -= frames.count(); }

private:
    Driver& driver_;
    Hertz frequency_;
    SampleRate rate_;
    SoakLoop loop_;
    What what_ = What::nothing;
    std::array<double, 2> drive_{};
    Stimulus playing_;
    std::int64_t since_ = 0;  ///< frames since this sound began
};

}  // namespace afterload::runner
