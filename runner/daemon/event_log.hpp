/// What happens at the daemon, in order: kept on the disk, and read by any number of followers.
///
/// An event that matters has an id, one higher than the one before, also over a restart; it is on
/// the disk when tell() returns. A mention (what a step is doing just now) has none and is not
/// kept. Followers read from the log at their own pace, so that a slow one costs no memory.
#pragma once

#include "runner/file_lock.hpp"
#include "runner/papers/json_text.hpp"

#include <tl/expected.hpp>

#include <cstdint>
#include <deque>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace afterload::runner {

struct Event {
    std::uint64_t id = 0;  ///< 0: a mention
    std::string at;        ///< RFC 3339, UTC
    std::string kind;      ///< "step_begins"
    Json data;
};
[[nodiscard]] Json event_json(const Event& event);

class EventLog {
public:
    /// Opens or makes the log file; a torn last line is cut off. Fails, in one line, where the file
    /// cannot be used or another program holds it.
    [[nodiscard]] static tl::expected<std::unique_ptr<EventLog>, std::string> open(
        const std::string& path);
    ~EventLog();
    EventLog(const EventLog&) = delete;
    EventLog& operator=(const EventLog&) = delete;

    void tell(std::string_view kind, Json data);
    void mention(std::string_view kind, Json data);

    /// A follower's place: behind the event with this id (0: at the oldest that is kept), or at the
    /// end.
    [[nodiscard]] std::uint64_t place_behind(std::uint64_t id) const;
    [[nodiscard]] std::uint64_t place_at_end() const;
    /// At most `most` events from `place` on, which moves behind them. What is no longer kept is
    /// passed over, and `passed_over` says so.
    [[nodiscard]] std::vector<Event> read(std::uint64_t& place, std::size_t most,
                                          bool& passed_over) const;
    [[nodiscard]] std::uint64_t last_id() const;
    /// Why the last event could not be kept on the disk; empty when it was.
    [[nodiscard]] std::string trouble() const;

private:
    EventLog(FileLock lock, std::string path) : lock_{std::move(lock)}, path_{std::move(path)} {}
    void append(Event event);
    void keep(const std::string& line);
    [[nodiscard]] bool reopen();

    const FileLock lock_;
    const std::string path_;
    int file_ = -1;
    mutable std::mutex mutex_;
    std::deque<Event> events_;
    std::uint64_t first_place_ = 0;  ///< of events_.front()
    std::uint64_t last_id_ = 0;
    std::uint64_t bytes_ = 0;  ///< of the file
    std::string trouble_;
};

}  // namespace afterload::runner
