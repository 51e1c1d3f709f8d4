/// The desk of the bench: takes runs in, carries them out one at a time, and answers for them.
///
/// One thread carries the runs out; every function below may be called from any other. The desk
/// begins nothing that a person has not submitted, after a restart too, and on a real bench nothing
/// whose unit a person has not confirmed.
#pragma once

#include "runner/daemon/desk_progress.hpp"
#include "runner/daemon/event_log.hpp"
#include "runner/daemon/remote_operator.hpp"
#include "runner/daemon/run_queue.hpp"
#include "runner/record/run_record.hpp"
#include "sequences/bench_file.hpp"

#include <tl/expected.hpp>

#include <atomic>
#include <condition_variable>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

namespace afterload::runner {

struct DeskSettings {
    std::string bench;  ///< the bench file; empty: none yet
    std::string runs;   ///< folder of the runs
    std::string queue;  ///< folder of the queue
    std::size_t queue_limit = 500;
};

/// Why the desk does not do what it was asked.
struct DeskRefusal {
    enum class Kind { bad_input, not_found, conflict, full, no_bench, disk };
    Kind kind = Kind::bad_input;
    std::string why;
    Json mistakes = Json::array();  ///< of files: file, line, column, what, advice
};
template <class T>
using DeskResult = tl::expected<T, DeskRefusal>;

/// Numbers for the outside: what was counted since the program began.
struct DeskCounts {
    std::map<std::string, int> runs;  ///< by verdict, and "refused"
    int retakes = 0;
    int gaps = 0;
    std::map<std::string, double> temperatures;  ///< of the last run, degC, by what is read
};

class RunDesk {
public:
    /// Fails, in one line, where the folders cannot be used. A bench that is not there is no
    /// failure: status() says so.
    [[nodiscard]] static tl::expected<std::unique_ptr<RunDesk>, std::string> open(
        DeskSettings settings, EventLog& events);
    /// Stops the run, safely, and waits for that.
    ~RunDesk();
    RunDesk(const RunDesk&) = delete;
    RunDesk& operator=(const RunDesk&) = delete;

    [[nodiscard]] DeskResult<QueueEntry> submit(Submission submission);
    /// A person says that the unit with this serial is wired up.
    [[nodiscard]] DeskResult<QueueEntry> confirm(const std::string& id, const std::string& serial);
    [[nodiscard]] DeskResult<QueueEntry> cancel(const std::string& id);
    [[nodiscard]] DeskResult<void> answer(PromptAnswer answer);
    [[nodiscard]] DeskResult<void> note(const std::string& text);
    /// Ends the run that goes on, safely; the queue waits until resume(). False: none goes on.
    bool stop_run();

    [[nodiscard]] std::vector<QueueEntry> queue() const;
    [[nodiscard]] DeskResult<QueueEntry> entry(const std::string& id) const;
    [[nodiscard]] DeskResult<std::vector<IndexedRun>> find(const RunQuery& query);
    /// A file of a run's folder: "run.json", "report.html", "figures.csv".
    [[nodiscard]] DeskResult<std::string> run_file(const std::string& run,
                                                   const std::string& file) const;
    [[nodiscard]] Json status() const;
    [[nodiscard]] DeskCounts counts() const;

    /// Takes new settings for the runs that begin from now on; the folders stay.
    void change(const DeskSettings& settings);
    /// Begins nothing any more and stops what goes on; over() when that is done.
    void finish();
    [[nodiscard]] bool over() const { return over_.load(); }
    /// True while the run's loop turns, or none runs.
    [[nodiscard]] bool advances() const;

private:
    RunDesk(DeskSettings settings, EventLog& events, RunQueue queue, RunRecord record);
    void work();
    void look_at_bench();
    void carry_out_entry(QueueEntry entry);
    [[nodiscard]] QueueEntry outcome_of(QueueEntry entry);
    void tell_queue(const QueueEntry& entry);
    /// Tells, once for each, what keeps the queue from the disk; with mutex_ held.
    bool took(const tl::expected<void, std::string>& kept);
    [[nodiscard]] Json bench_status() const;

    EventLog& events_;
    mutable std::mutex mutex_;
    std::condition_variable changed_;
    DeskSettings settings_;
    RunQueue queue_;
    std::optional<RunPosition> position_;
    std::shared_ptr<RemoteOperator> person_;
    std::string bench_trouble_;
    std::string queue_trouble_;  ///< what keeps the queue from the disk
    bool bench_looked_at_ = false;
    std::uint64_t last_prompt_ = 0;
    DeskCounts counts_;

    mutable std::mutex record_mutex_;
    RunRecord record_;

    std::atomic<bool> stop_{false};
    std::atomic<bool> finishing_{false};
    std::atomic<bool> over_{false};
    std::atomic<double> turned_{0.0};  ///< monotonic, when the run's loop turned last
    std::atomic<bool> running_{false};
    std::thread thread_;
};

}  // namespace afterload::runner
