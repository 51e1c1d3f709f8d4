/// Do the events of a soak come at one temperature, or so long after power came on?
#pragma once

#include "analysis/quantity.hpp"
#include "analysis/soak/soak_event.hpp"

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace afterload::analysis {

/// The unit's temperature, logged at a steady pace (a second to a minute).
struct TemperatureLogged {
    Seconds time;  ///< on the time axis of the events
    Celsius temperature;
    Seconds since_drive;
    bool watched = true;  ///< could an event have been seen: driven and not learning
};

struct EventPattern {
    enum class Against {
        temperature_rising,   ///< "near 47 degC on the way up"
        temperature_falling,  ///< "... on the way down"
        temperature,          ///< whichever way
        time_since_drive,     ///< "4 min after drive begins", over several cycles
    };
    Against against = Against::temperature;
    double centre = 0.0;  ///< degC or s, mean of those inside
    double low = 0.0;     ///< the window, degC or s
    double high = 0.0;
    int inside = 0;         ///< events in the window
    int all = 0;            ///< events that could be placed
    double exposure = 0.0;  ///< share of the watched time spent in the window
    /// At most so likely if events came evenly over the watched time: see below.
    double by_chance = 1.0;
    std::string finding;  ///< one line: what, with the numbers and the test
};

/// The most unlikely gathering of `events`, of one class and channel or of all that are given, with
/// its chance; nothing with fewer than three placed events, or when the chance is above `most`.
///
/// Test    null hypothesis: each event falls independently anywhere in the watched time. For a
///         window that begins at an event and takes in `inside` of the `all`, the chance that
///         another inside - 1 of all - 1 fall in a share `exposure` is the binomial tail
///         P(X >= inside - 1 | all - 1, exposure); it is multiplied by the number of windows tried
///         (Bonferroni), over all widths and axes, so `by_chance` is an upper bound.
/// Widths  1, 2, 4 degC; 10, 30, 60 s. Rising and falling by the sign of the slope over the two
///         minutes before, steady within 0.1 degC a minute counts as neither.
/// Since   time since drive is tried only when drive began at least twice.
/// Events  closer together than 5 s count once: a contact that chatters is one occasion.
[[nodiscard]] std::optional<EventPattern> pattern_of(std::span<const SoakEvent> events,
                                                     std::span<const TemperatureLogged> log,
                                                     double most = 0.05);

}  // namespace afterload::analysis
