#include "runner/daemon/event_log.hpp"

#include "runner/durable_file.hpp"
#include "runner/papers/json_place.hpp"
#include "runner/wall_clock.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <fcntl.h>
#include <optional>
#include <system_error>
#include <unistd.h>
#include <utility>

namespace afterload::runner {
namespace {

constexpr std::size_t events_kept = 20000;
constexpr std::uint64_t longest_file = std::uint64_t{16} << 20U;

std::string said(const std::string& path, const char* what) {
    return path + ": " + what + ": " + std::generic_category().message(errno);
}

tl::expected<std::string, std::string> whole(int file, const std::string& path) {
    std::string text;
    std::array<char, 65536> buffer{};
    while (true) {
        const ssize_t got = read(file, buffer.data(), buffer.size());
        if (got < 0) {
            return tl::unexpected(said(path, "cannot be read"));
        }
        if (got == 0) {
            return text;
        }
        text.append(buffer.data(), static_cast<std::size_t>(got));
    }
}

/// Nothing where the line is no event: it was torn, or somebody wrote into the file.
std::optional<Event> event_of(std::string_view line) {
    const auto document = parse_json(line);
    if (!document) {
        return std::nullopt;
    }
    try {
        const JsonPlace place{*document};
        Event event;
        event.id = place.at("id").whole_unsigned();
        event.at = place.at("at").text();
        event.kind = place.at("event").text();
        event.data = document->at("data");
        return event;
    } catch (const std::exception&) {
        return std::nullopt;
    }
}

bool write_all(int file, std::string_view text) {
    while (!text.empty()) {
        const ssize_t wrote = write(file, text.data(), text.size());
        if (wrote < 0 && errno == EINTR) {
            continue;
        }
        if (wrote <= 0) {
            return false;
        }
        text.remove_prefix(static_cast<std::size_t>(wrote));
    }
    return fdatasync(file) == 0;
}

}  // namespace

Json event_json(const Event& event) {
    Json document;
    if (event.id > 0) {
        document["id"] = event.id;
    }
    document["at"] = event.at;
    document["event"] = event.kind;
    document["data"] = event.data;
    return document;
}

EventLog::~EventLog() {
    if (file_ >= 0) {
        close(file_);
    }
}

bool EventLog::reopen() {
    if (file_ >= 0) {
        close(file_);
    }
    file_ = ::open(path_.c_str(), O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0640);
    return file_ >= 0;
}

tl::expected<std::unique_ptr<EventLog>, std::string> EventLog::open(const std::string& path) {
    auto lock = FileLock::of_file(path + ".lock");
    if (!lock) {
        return tl::unexpected(FileLock::is_held(lock.error())
                                  ? path + ": another afterloadd uses this state folder"
                                  : path + ".lock: " + lock.error().message());
    }
    std::unique_ptr<EventLog> log{new EventLog{*std::move(lock), path}};
    if (!log->reopen()) {
        return tl::unexpected(said(path, "cannot be opened"));
    }
    const auto text = whole(log->file_, path);
    if (!text) {
        return tl::unexpected(text.error());
    }
    std::size_t sound = 0;
    for (std::size_t at = 0; at < text->size();) {
        const std::size_t end = text->find('\n', at);
        if (end == std::string::npos) {
            break;
        }
        if (auto event = event_of(std::string_view{*text}.substr(at, end - at));
            event && event->id > log->last_id_) {
            log->last_id_ = event->id;
            log->append(*std::move(event));
        }
        at = sound = end + 1;
    }
    if (ftruncate(log->file_, static_cast<off_t>(sound)) != 0) {
        return tl::unexpected(said(path, "cannot be written"));
    }
    log->bytes_ = sound;
    return log;
}

void EventLog::append(Event event) {
    events_.push_back(std::move(event));
    if (events_.size() > events_kept) {
        events_.pop_front();
        ++first_place_;
    }
}

void EventLog::tell(std::string_view kind, Json data) {
    const std::lock_guard lock{mutex_};
    Event event{++last_id_, wall_clock_stamp(), std::string{kind}, std::move(data)};
    const std::string line = json_line(event_json(event)) + "\n";
    append(std::move(event));
    keep(line);
}

void EventLog::keep(const std::string& line) {
    if (bytes_ + line.size() > longest_file) {
        // What is older than what followers can still read goes; the ids go on.
        std::string kept;
        for (const Event& one : events_) {
            kept += one.id > 0 ? json_line(event_json(one)) + "\n" : "";
        }
        const auto written = write_durably(path_, kept);
        trouble_ = !written    ? written.error()
                   : !reopen() ? said(path_, "cannot be opened")
                               : std::string{};
        bytes_ = written ? kept.size() : bytes_;
        return;
    }
    if (write_all(file_, line)) {
        bytes_ += line.size();
        trouble_.clear();
        return;
    }
    trouble_ = said(path_, "cannot be written");
    // No half line stays before the next one.
    if (ftruncate(file_, static_cast<off_t>(bytes_)) != 0) {
        trouble_ = said(path_, "cannot be mended");
    }
}

void EventLog::mention(std::string_view kind, Json data) {
    const std::lock_guard lock{mutex_};
    append(Event{0, wall_clock_stamp(), std::string{kind}, std::move(data)});
}

std::uint64_t EventLog::place_behind(std::uint64_t id) const {
    const std::lock_guard lock{mutex_};
    const auto next = std::find_if(events_.begin(), events_.end(),
                                   [&](const Event& event) { return event.id > id; });
    return first_place_ + static_cast<std::uint64_t>(next - events_.begin());
}

std::uint64_t EventLog::place_at_end() const {
    const std::lock_guard lock{mutex_};
    return first_place_ + events_.size();
}

std::vector<Event> EventLog::read(std::uint64_t& place, std::size_t most, bool& passed_over) const {
    const std::lock_guard lock{mutex_};
    passed_over = place < first_place_;
    place = std::max(place, first_place_);
    const std::size_t from = std::min<std::size_t>(place - first_place_, events_.size());
    const std::size_t count = std::min(most, events_.size() - from);
    const auto begin = events_.begin() + static_cast<std::ptrdiff_t>(from);
    place = first_place_ + from + count;
    return {begin, begin + static_cast<std::ptrdiff_t>(count)};
}

std::uint64_t EventLog::last_id() const {
    const std::lock_guard lock{mutex_};
    return last_id_;
}

std::string EventLog::trouble() const {
    const std::lock_guard lock{mutex_};
    return trouble_;
}

}  // namespace afterload::runner
