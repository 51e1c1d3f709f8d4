/// What drives the unit.
#pragma once

#include "analysis/stimulus.hpp"
#include "instruments/async.hpp"
#include "instruments/failure.hpp"

#include <string>

namespace afterload::instruments {

class Source {
public:
    Source() = default;
    Source(const Source&) = delete;
    Source& operator=(const Source&) = delete;
    virtual ~Source() = default;

    [[nodiscard]] virtual std::string identity() const = 0;
    /// Open-circuit peak volts of the largest sine it can play, each channel.
    [[nodiscard]] virtual VoltsPeak full_scale() const = 0;
    /// Can each channel have a level, and a signal, of its own? A generator with one output cannot.
    [[nodiscard]] virtual bool channels_apart() const { return true; }
    /// Plays `stimulus` from now on until told otherwise; replaces what played before. Where only
    /// the level is another (same_sound()), its time goes on: no sample is played twice or left
    /// out. Fails with `refused` when its peaks exceed full_scale(); what played before then plays
    /// on.
    [[nodiscard]] virtual Task<BenchResult<void>> play(Stimulus stimulus) = 0;
    /// Silence, at once. May be called at any time and any number of times.
    [[nodiscard]] virtual Task<BenchResult<void>> mute() = 0;
};

}  // namespace afterload::instruments
