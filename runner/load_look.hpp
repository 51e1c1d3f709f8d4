/// Is there a load at all? Let go of, it must be missed.
///
/// A figure of power is volts over a resistance that nobody sees: with a load lead off, or a relay
/// that does not close, a unit passes that never gave an ampere. At the first low level of a pair
/// of terminals the level is read with the load and without; where it stays the same to 0.01 %,
/// no load was there. For that the unit's output impedance would have to be below 0.8 mohm at
/// 8 ohm, less than a metre of lead has.
#pragma once

#include "analysis/rating.hpp"
#include "runner/level_finder.hpp"

#include <set>
#include <string>

namespace afterload::runner {

/// Not with an output transformer.
[[nodiscard]] bool may_be_driven_open(const RatingSheet& sheet);
/// V rms at the terminals up to which a look is taken, so that the first one meets a low level.
[[nodiscard]] VoltsRms most_for_load_look(Ohms load);
/// How long a look takes, without what must be taken again, and how much of it the load is warmed.
[[nodiscard]] Seconds load_look_length(Hertz frequency, Seconds settle);
[[nodiscard]] Seconds load_look_loaded(Hertz frequency, Seconds settle);
/// How long one of its two readings takes.
[[nodiscard]] Seconds load_look_reading(Hertz frequency);

class LoadLook {
public:
    LoadLook(Driver& driver, LevelFinder& finder) : driver_{driver}, finder_{finder} {}

    /// Is a look at `terminals`, which name the load as well, due: the load can be switched and is
    /// connected, the level is at most about a watt, and a channel that plays was not looked at
    /// before?
    [[nodiscard]] bool due(const std::string& terminals, const LevelReached& level,
                           Ohms load) const;

    /// With the tone of `level` playing and settled, and leaves it so, the load connected. Both
    /// readings are taken 6 dB below: what rises without its load never passes the level.
    /// Fails with `bench_failed` when a load is not missed.
    [[nodiscard]] instruments::Task<RunResult<void>> look(std::string terminals, Ohms load,
                                                          LevelReached level, Hertz frequency,
                                                          std::optional<Hertz> mains,
                                                          Seconds settle);

private:
    [[nodiscard]] instruments::Task<RunResult<void>> play(LevelReached level, Hertz frequency,
                                                          Seconds settle);

    Driver& driver_;
    LevelFinder& finder_;
    std::set<std::string> looked_;  ///< terminals and channel
};

}  // namespace afterload::runner
