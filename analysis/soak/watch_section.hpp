/// A stretch of a soak in which one stimulus is played: what watches it, and what it is given.
#pragma once

#include "analysis/block_buffer.hpp"
#include "analysis/soak/event_book.hpp"
#include "analysis/soak/stimulus_watch.hpp"

#include <cstdint>
#include <vector>

namespace afterload::analysis {

/// The last seconds of record and stimulus, and where events and readings go. Sample numbers count
/// from the watch's beginning.
struct WatchedStreams {
    WatchedStreams(std::size_t channels, std::size_t stimuli, std::int64_t first)
        : record{channels, first}, stimulus{stimuli, first} {}
    BlockBuffer record;
    BlockBuffer stimulus;
    [[nodiscard]] std::size_t stimulus_of(std::size_t channel) const {
        return channel < stimulus.channels() ? channel : stimulus.channels() - 1;
    }
};

class WatchSection {
public:
    WatchSection() = default;
    WatchSection(const WatchSection&) = delete;
    WatchSection& operator=(const WatchSection&) = delete;
    virtual ~WatchSection() = default;

    /// Looks at what has come; tells events to `book`.
    virtual void advance(WatchedStreams& streams, EventBook& book) = 0;
    /// First sample that is still needed.
    [[nodiscard]] virtual std::int64_t oldest_needed() const = 0;
    /// No more comes.
    virtual void finish(WatchedStreams& streams, EventBook& book) = 0;
    /// Fills what only the section knows of the last second, and begins the next.
    virtual void read(SoakReading& reading) = 0;
    [[nodiscard]] virtual bool learning() const = 0;
    [[nodiscard]] virtual std::optional<double> latency_frames() const { return std::nullopt; }
    virtual void drive_changed(WatchedStreams& /*streams*/, EventBook& /*book*/, Gain /*change*/) {}
};

}  // namespace afterload::analysis
