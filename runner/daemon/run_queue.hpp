/// The queue of runs, on the disk: one file an entry, whole or not there.
///
/// An entry that was running when the program ended is marked interrupted and never begun again.
/// The text of what was submitted goes when an entry is over; the last few that are over are kept,
/// to be asked for.
#pragma once

#include "runner/daemon/submission.hpp"

#include <tl/expected.hpp>

#include <cstdint>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::runner {

enum class QueueState {
    unconfirmed,  ///< a person must say which unit is wired up
    waiting,
    running,
    done,
    refused,  ///< could not begin, or the program failed: `why`
    cancelled,
    interrupted,  ///< the program or the machine went down while it ran
};
[[nodiscard]] std::string_view name(QueueState state);
[[nodiscard]] bool is_over(QueueState state);

struct QueueEntry {
    std::uint64_t number = 0;
    QueueState state = QueueState::waiting;
    std::string submitted;  ///< RFC 3339, UTC
    std::string title;      ///< of the sequence
    std::string unit;       ///< "Hollinfay H40"
    std::string serial;
    std::string stage;
    std::string run;      ///< id of its run, once it has one
    std::string verdict;  ///< "pass", once it is done
    int exit_status = 0;  ///< as the command line would have given
    std::string why;
    std::shared_ptr<const Submission> submission;  ///< until it is over

    [[nodiscard]] std::string id() const { return "q" + std::to_string(number); }
};
/// Without what was submitted.
[[nodiscard]] Json queue_entry_json(const QueueEntry& entry);

class RunQueue {
public:
    /// Reads the entries of `folder`, which is made where it is not there. A file that is none is
    /// left as it is and named in `unreadable`. Fails, in one line, where the folder cannot be
    /// used.
    [[nodiscard]] static tl::expected<RunQueue, std::string> open(const std::string& folder,
                                                                  std::size_t limit);

    /// Takes an entry in; its number is given here. Fails when `limit` of them wait already, or the
    /// disk does not take it.
    [[nodiscard]] tl::expected<QueueEntry, std::string> add(QueueEntry entry);
    /// Keeps what changed of an entry; nothing changes where the disk does not take it.
    [[nodiscard]] tl::expected<void, std::string> update(const QueueEntry& entry);
    /// Keeps how an entry ended: that is so whether or not the disk takes it. What it does not take
    /// is owed to it.
    [[nodiscard]] tl::expected<void, std::string> conclude(const QueueEntry& entry);
    /// Writes what is owed to the disk.
    [[nodiscard]] tl::expected<void, std::string> settle();
    [[nodiscard]] bool owes() const { return !owed_.empty(); }
    /// The next that may begin.
    [[nodiscard]] std::optional<QueueEntry> next() const;
    [[nodiscard]] std::optional<QueueEntry> find(std::string_view id) const;
    /// Oldest first.
    [[nodiscard]] const std::vector<QueueEntry>& entries() const { return entries_; }
    [[nodiscard]] std::size_t waiting() const;
    void set_limit(std::size_t limit) { limit_ = limit; }
    [[nodiscard]] std::size_t limit() const { return limit_; }
    [[nodiscard]] const std::vector<std::string>& unreadable() const { return unreadable_; }
    /// Numbers of the entries that were running when the program ended.
    [[nodiscard]] const std::vector<std::uint64_t>& interrupted() const { return interrupted_; }

private:
    RunQueue(std::string folder, std::size_t limit) : folder_{std::move(folder)}, limit_{limit} {}
    [[nodiscard]] std::string path_of(std::uint64_t number) const;
    [[nodiscard]] tl::expected<void, std::string> write(const QueueEntry& entry) const;
    void remember(QueueEntry entry);
    void forget_old();

    std::string folder_;
    std::size_t limit_;
    std::vector<QueueEntry> entries_;
    std::vector<std::string> unreadable_;
    std::vector<std::uint64_t> interrupted_;
    std::set<std::uint64_t> owed_;  ///< numbers of the entries whose end the disk did not take
    std::uint64_t last_ = 0;
};

}  // namespace afterload::runner
