/// An event of a soak: what the watch saw, with what the bench knew at that moment.
#pragma once

#include "analysis/quantity.hpp"
#include "analysis/watch_event.hpp"

#include <cstdint>
#include <optional>

namespace afterload::analysis {

/// One event. A watch tells it when it begins, so that a bench can act at once, and again with the
/// same `id` when it is over; in between its duration and size may still grow.
struct SoakEvent {
    std::uint64_t id = 0;  ///< from 1, of one watch; the same when it is told again
    WatchEvent seen;       ///< kind, channel, start (since the watch began), duration, size, blame
    bool lasts = true;     ///< told at its beginning; false: it is over, its figures are final
    /// Told before and taken back: it was part of another event (`part_of`).
    bool withdrawn = false;
    std::uint64_t part_of = 0;

    // Given by the caller, not known to a watch.
    std::optional<Celsius> temperature;  ///< of the hotter healthy sensor at the unit
    std::optional<Seconds> since_drive;  ///< since drive began, this time
    std::optional<Seconds> since_start;  ///< since the soak began
};

}  // namespace afterload::analysis
