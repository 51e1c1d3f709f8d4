#include "runner/daemon/run_queue.hpp"

#include "runner/durable_file.hpp"
#include "runner/papers/json_place.hpp"
#include "runner/wall_clock.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <system_error>
#include <utility>

namespace afterload::runner {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view schema = "afterload/queue/1";
constexpr std::size_t over_kept = 200;

constexpr std::array<std::pair<QueueState, std::string_view>, 7> states{
    {{QueueState::unconfirmed, "unconfirmed"},
     {QueueState::waiting, "waiting"},
     {QueueState::running, "running"},
     {QueueState::done, "done"},
     {QueueState::refused, "refused"},
     {QueueState::cancelled, "cancelled"},
     {QueueState::interrupted, "interrupted"}}};

std::optional<QueueState> state_named(std::string_view wanted) {
    const auto found = std::find_if(states.begin(), states.end(),
                                    [&](const auto& one) { return one.second == wanted; });
    return found == states.end() ? std::nullopt : std::optional{found->first};
}

tl::expected<QueueEntry, std::string> read_entry(std::string_view text) {
    const auto document = parse_json(text);
    if (!document) {
        return tl::unexpected(document.error());
    }
    try {
        const JsonPlace root{*document};
        if (root.text_or("schema") != schema) {
            root.misfit("this is no " + std::string{schema});
        }
        QueueEntry entry;
        entry.number = root.at("number").whole_unsigned();
        entry.state = named_value(root.at("state"), state_named);
        entry.submitted = root.text_or("submitted");
        entry.title = root.text_or("title");
        entry.unit = root.text_or("unit");
        entry.serial = root.text_or("serial");
        entry.stage = root.text_or("stage");
        entry.run = root.text_or("run");
        entry.verdict = root.text_or("verdict");
        entry.exit_status = static_cast<int>(root.number_or("exit_status", 0.0));
        entry.why = root.text_or("why");
        if (root.find("submission")) {
            auto submission = read_submission(json_line(document->at("submission")));
            if (!submission) {
                return tl::unexpected("submission: " + submission.error());
            }
            entry.submission = std::make_shared<const Submission>(*std::move(submission));
        }
        return entry;
    } catch (const JsonMisfit& misfit) {
        return tl::unexpected(std::string{misfit.what()});
    }
}

tl::expected<QueueEntry, std::string> read_entry_file(const fs::path& path) {
    std::ifstream file{path, std::ios::binary};
    const std::string text{std::istreambuf_iterator<char>{file}, {}};
    if (file.bad()) {
        return tl::unexpected(std::string{"cannot be read"});
    }
    return read_entry(text);
}

}  // namespace

std::string_view name(QueueState state) {
    return std::find_if(states.begin(), states.end(),
                        [&](const auto& one) { return one.first == state; })
        ->second;
}

bool is_over(QueueState state) {
    return state != QueueState::unconfirmed && state != QueueState::waiting &&
           state != QueueState::running;
}

Json queue_entry_json(const QueueEntry& entry) {
    Json document;
    document["id"] = entry.id();
    document["state"] = name(entry.state);
    document["submitted"] = entry.submitted;
    document["title"] = entry.title;
    document["unit"] = entry.unit;
    document["serial"] = entry.serial;
    document["stage"] = entry.stage;
    document["run"] = entry.run;
    document["verdict"] = entry.verdict;
    document["exit_status"] = entry.exit_status;
    document["why"] = entry.why;
    return document;
}

tl::expected<RunQueue, std::string> RunQueue::open(const std::string& folder, std::size_t limit) {
    std::error_code error;
    fs::create_directories(folder, error);
    if (!fs::is_directory(folder, error)) {
        return tl::unexpected(folder + ": cannot be made: " + error.message());
    }
    RunQueue queue{folder, limit};
    for (const auto& file : fs::directory_iterator{folder, error}) {
        const std::string file_name = file.path().filename().string();
        if (!file_name.ends_with(".json")) {
            continue;  // what a power cut left half written
        }
        auto entry = read_entry_file(file.path());
        if (!entry || queue.path_of(entry->number) != file.path().string()) {
            queue.unreadable_.push_back(file.path().string() + ": " +
                                        (entry ? "not its own name" : entry.error()));
            continue;
        }
        queue.last_ = std::max(queue.last_, entry->number);
        queue.entries_.push_back(*std::move(entry));
    }
    if (error) {
        return tl::unexpected(folder + ": cannot be read: " + error.message());
    }
    std::sort(queue.entries_.begin(), queue.entries_.end(),
              [](const auto& a, const auto& b) { return a.number < b.number; });
    for (std::size_t n = 0; n < queue.entries_.size(); ++n) {
        QueueEntry entry = queue.entries_[n];
        if (entry.state != QueueState::running) {
            continue;
        }
        entry.state = QueueState::interrupted;
        entry.why = "afterloadd ended while it ran; what was measured until then is kept";
        queue.interrupted_.push_back(entry.number);
        if (auto kept = queue.update(entry); !kept) {
            return tl::unexpected(std::move(kept.error()));
        }
    }
    return queue;
}

std::string RunQueue::path_of(std::uint64_t number) const {
    return fmt::format("{}/{:08}.json", folder_, number);
}

tl::expected<QueueEntry, std::string> RunQueue::add(QueueEntry entry) {
    if (waiting() >= limit_) {
        return tl::unexpected(
            fmt::format("the queue is full: {} runs wait already; wait for one to end, or cancel "
                        "one",
                        limit_));
    }
    entry.number = last_ + 1;
    entry.submitted = wall_clock_stamp();
    entries_.push_back(entry);
    if (auto kept = update(entry); !kept) {
        entries_.pop_back();
        return tl::unexpected(std::move(kept.error()));
    }
    ++last_;
    return entry;
}

tl::expected<void, std::string> RunQueue::update(const QueueEntry& entry) {
    auto kept = write(entry);
    if (kept) {
        remember(entry);
    }
    return kept;
}

tl::expected<void, std::string> RunQueue::conclude(const QueueEntry& entry) {
    owed_.insert(entry.number);
    remember(entry);
    return settle();
}

tl::expected<void, std::string> RunQueue::settle() {
    for (const QueueEntry& entry : entries_) {
        if (owed_.count(entry.number) == 0) {
            continue;
        }
        if (auto kept = write(entry); !kept) {
            return kept;
        }
        owed_.erase(entry.number);
    }
    forget_old();
    return {};
}

tl::expected<void, std::string> RunQueue::write(const QueueEntry& entry) const {
    Json document = queue_entry_json(entry);
    document.erase("id");
    document["number"] = entry.number;
    document["schema"] = schema;
    if (entry.submission && !is_over(entry.state)) {
        document["submission"] = submission_json(*entry.submission);
    }
    return write_durably(path_of(entry.number), json_line(document) + "\n");
}

void RunQueue::remember(QueueEntry entry) {
    if (is_over(entry.state)) {
        entry.submission.reset();
    }
    const auto at = std::find_if(entries_.begin(), entries_.end(),
                                 [&](const QueueEntry& one) { return one.number == entry.number; });
    if (at != entries_.end()) {
        *at = std::move(entry);
    }
    forget_old();
}

void RunQueue::forget_old() {
    auto over = static_cast<std::size_t>(
        std::count_if(entries_.begin(), entries_.end(),
                      [](const QueueEntry& one) { return is_over(one.state); }));
    // The newest stays whatever it is: it holds the last number.
    for (auto at = entries_.begin(); over > over_kept && at != std::prev(entries_.end());) {
        if (!is_over(at->state) || owed_.count(at->number) > 0) {
            ++at;
            continue;
        }
        std::error_code error;
        fs::remove(path_of(at->number), error);
        at = entries_.erase(at);
        --over;
    }
}

std::optional<QueueEntry> RunQueue::next() const {
    const auto found = std::find_if(entries_.begin(), entries_.end(), [](const QueueEntry& one) {
        return one.state == QueueState::waiting;
    });
    return found == entries_.end() ? std::nullopt : std::optional{*found};
}

std::optional<QueueEntry> RunQueue::find(std::string_view id) const {
    const auto found = std::find_if(entries_.begin(), entries_.end(),
                                    [&](const QueueEntry& one) { return one.id() == id; });
    return found == entries_.end() ? std::nullopt : std::optional{*found};
}

std::size_t RunQueue::waiting() const {
    return static_cast<std::size_t>(
        std::count_if(entries_.begin(), entries_.end(),
                      [](const QueueEntry& one) { return !is_over(one.state); }));
}

}  // namespace afterload::runner
