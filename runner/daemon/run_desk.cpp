#include "runner/daemon/run_desk.hpp"

#include "instruments/monotonic.hpp"
#include "runner/daemon/desk_bench.hpp"
#include "runner/disk_room.hpp"
#include "runner/mistakes.hpp"
#include "runner/open_bench.hpp"
#include "runner/run_to_end.hpp"
#include "runner/whole_run.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <exception>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <utility>

namespace afterload::runner {
namespace {

constexpr Seconds longest_turn{60.0};                    // one computation of a run's loop
constexpr std::chrono::seconds before_writing_again{5};  // to a disk that is full or broken

tl::unexpected<DeskRefusal> refusal(DeskRefusal::Kind kind, std::string why) {
    return tl::unexpected(DeskRefusal{kind, std::move(why), Json::array()});
}

tl::unexpected<DeskRefusal> refusal(const Mistakes& mistakes) {
    DeskRefusal refused{DeskRefusal::Kind::bad_input, {}, mistakes_json(mistakes)};
    const sequences::Diagnostics& file = mistakes.front();
    const sequences::Mistake& first = file.mistakes.front();
    refused.why =
        fmt::format("{}:{}:{}: {}", file.path, first.place.line, first.place.column, first.what);
    return tl::unexpected(std::move(refused));
}

bool has_folder_name(const std::string& run) {
    return !run.empty() && run.size() < 200 && run.find('/') == std::string::npos &&
           run.front() != '.';
}

/// Opens the bench and lets it go again.
instruments::Task<std::string> trouble_with(sequences::BenchFile file, Operator& person) {
    const auto opened = co_await open_bench(std::move(file), std::nullopt, std::nullopt, person);
    co_return opened ? std::string{} : opened.error();
}

}  // namespace

RunDesk::RunDesk(DeskSettings settings, EventLog& events, RunQueue queue, RunRecord record)
    : events_{events},
      settings_{std::move(settings)},
      queue_{std::move(queue)},
      record_{std::move(record)},
      thread_{[this] { work(); }} {}

RunDesk::~RunDesk() {
    finish();
    thread_.join();
}

tl::expected<std::unique_ptr<RunDesk>, std::string> RunDesk::open(DeskSettings settings,
                                                                  EventLog& events) {
    std::error_code error;
    std::filesystem::create_directories(settings.runs, error);
    if (!std::filesystem::is_directory(settings.runs, error)) {
        return tl::unexpected(settings.runs + ": cannot be made: " + error.message());
    }
    auto queue = RunQueue::open(settings.queue, settings.queue_limit);
    if (!queue) {
        return tl::unexpected(std::move(queue.error()));
    }
    auto record = RunRecord::open(settings.runs);
    if (!record) {
        return tl::unexpected(std::move(record.error()));
    }
    auto read = record->refresh();
    if (!read) {
        return tl::unexpected(std::move(read.error()));
    }
    for (const std::string& id : read->interrupted) {
        events.tell("run_interrupted", Json{{"run", id}});
    }
    for (const std::string& line : read->unreadable) {
        events.tell("trouble", Json{{"what", line}});
    }
    for (const std::string& line : queue->unreadable()) {
        events.tell("trouble", Json{{"what", line}});
    }
    for (const std::uint64_t number : queue->interrupted()) {
        events.tell("queue", queue_entry_json(*queue->find("q" + std::to_string(number))));
    }
    return std::unique_ptr<RunDesk>{
        new RunDesk{std::move(settings), events, *std::move(queue), *std::move(record)}};
}

DeskResult<QueueEntry> RunDesk::submit(Submission submission) {
    if (finishing_.load()) {
        return refusal(DeskRefusal::Kind::no_bench, "afterloadd is ending and takes no more runs");
    }
    std::string bench_path;
    std::string runs;
    {
        const std::lock_guard lock{mutex_};
        bench_path = settings_.bench;
        runs = settings_.runs;
    }
    auto bench = read_desk_bench(bench_path);
    if (!bench) {
        return refusal(DeskRefusal::Kind::no_bench, std::move(bench.error()));
    }
    if (auto room = room_to_begin(runs); !room) {
        return refusal(DeskRefusal::Kind::disk, std::move(room.error()));
    }
    RunRequest whole = submission.request;
    whole.files.push_back(bench->text);
    auto read = plan_of(whole);
    if (const auto* mistakes = std::get_if<Mistakes>(&read)) {
        return refusal(*mistakes);
    }
    const RunPlan& plan = std::get<RunPlan>(read);
    if (!plan.sheet.unit) {
        return refusal(DeskRefusal::Kind::bad_input,
                       submission.request.file("rating")->path +
                           ": is a house sheet and names no unit; give it with --house");
    }
    const bool simulated = plan.bench.simulated.has_value();
    if (submission.assume_prompts && !simulated) {
        return refusal(DeskRefusal::Kind::bad_input,
                       "prompts can be assumed only on benches on which everything that drives is "
                       "simulated; on this one a person answers");
    }
    if (!simulated && plan.serial.empty()) {
        return refusal(DeskRefusal::Kind::bad_input,
                       "no serial: on a real bench a run waits until a person has confirmed the "
                       "serial of the unit that is wired up; give --serial");
    }
    QueueEntry entry;
    entry.state = simulated ? QueueState::waiting : QueueState::unconfirmed;
    entry.title = plan.sequence.title;
    entry.unit = plan.sheet.unit->maker + " " + plan.sheet.unit->model;
    entry.serial = plan.serial;
    entry.stage = std::string{name(plan.stage)};
    entry.submission = std::make_shared<const Submission>(std::move(submission));
    const std::lock_guard lock{mutex_};
    if (queue_.waiting() >= queue_.limit()) {
        return refusal(
            DeskRefusal::Kind::full,
            fmt::format("the queue is full: {} runs wait or run already; wait for one to "
                        "end, or cancel one",
                        queue_.waiting()));
    }
    auto added = queue_.add(std::move(entry));
    if (!added) {
        return refusal(DeskRefusal::Kind::disk, std::move(added.error()));
    }
    tell_queue(*added);
    changed_.notify_all();
    return *std::move(added);
}

DeskResult<QueueEntry> RunDesk::confirm(const std::string& id, const std::string& serial) {
    const std::lock_guard lock{mutex_};
    auto entry = queue_.find(id);
    if (!entry) {
        return refusal(DeskRefusal::Kind::not_found, id + ": no such entry in the queue");
    }
    if (entry->state != QueueState::unconfirmed) {
        return refusal(
            DeskRefusal::Kind::conflict,
            fmt::format("{} is {} and waits for no confirmation", id, name(entry->state)));
    }
    if (serial != entry->serial) {
        return refusal(DeskRefusal::Kind::conflict,
                       fmt::format("{} was submitted for serial {}, not {}: wire that unit up, or "
                                   "cancel and submit again",
                                   id, entry->serial, serial));
    }
    entry->state = QueueState::waiting;
    if (auto kept = queue_.update(*entry); !kept) {
        return refusal(DeskRefusal::Kind::disk, std::move(kept.error()));
    }
    tell_queue(*entry);
    changed_.notify_all();
    return *std::move(entry);
}

DeskResult<QueueEntry> RunDesk::cancel(const std::string& id) {
    const std::lock_guard lock{mutex_};
    auto entry = queue_.find(id);
    if (!entry) {
        return refusal(DeskRefusal::Kind::not_found, id + ": no such entry in the queue");
    }
    if (entry->state == QueueState::running) {
        return refusal(DeskRefusal::Kind::conflict, id + " is running: stop it");
    }
    if (is_over(entry->state)) {
        return refusal(DeskRefusal::Kind::conflict,
                       fmt::format("{} is {} already", id, name(entry->state)));
    }
    entry->state = QueueState::cancelled;
    if (auto kept = queue_.update(*entry); !kept) {
        return refusal(DeskRefusal::Kind::disk, std::move(kept.error()));
    }
    tell_queue(*entry);
    return *std::move(entry);
}

DeskResult<void> RunDesk::answer(PromptAnswer answer) {
    std::shared_ptr<RemoteOperator> person;
    {
        const std::lock_guard lock{mutex_};
        person = person_;
    }
    if (!person) {
        return refusal(DeskRefusal::Kind::conflict, "no run goes on, so no prompt waits");
    }
    if (auto taken = person->answer(std::move(answer)); !taken) {
        return refusal(DeskRefusal::Kind::conflict, std::move(taken.error()));
    }
    return {};
}

DeskResult<void> RunDesk::note(const std::string& text) {
    std::shared_ptr<RemoteOperator> person;
    {
        const std::lock_guard lock{mutex_};
        person = person_;
    }
    if (!person) {
        return refusal(DeskRefusal::Kind::conflict, "no run goes on that the note could go to");
    }
    person->add_note(text);
    events_.tell("note", Json{{"text", text}});
    return {};
}

bool RunDesk::stop_run() {
    const std::lock_guard lock{mutex_};
    if (!position_) {
        return false;
    }
    stop_.store(true);
    events_.tell("stopping", run_position_json(*position_));
    return true;
}

std::vector<QueueEntry> RunDesk::queue() const {
    const std::lock_guard lock{mutex_};
    return queue_.entries();
}

DeskResult<QueueEntry> RunDesk::entry(const std::string& id) const {
    const std::lock_guard lock{mutex_};
    auto found = queue_.find(id);
    if (!found) {
        return refusal(DeskRefusal::Kind::not_found, id + ": no such entry in the queue");
    }
    return *std::move(found);
}

DeskResult<std::vector<IndexedRun>> RunDesk::find(const RunQuery& query) {
    const std::lock_guard lock{record_mutex_};
    if (auto read = record_.refresh(); !read) {
        return refusal(DeskRefusal::Kind::disk, std::move(read.error()));
    }
    auto found = record_.find(query);
    if (!found) {
        return refusal(DeskRefusal::Kind::bad_input, std::move(found.error()));
    }
    return *std::move(found);
}

DeskResult<std::string> RunDesk::run_file(const std::string& run, const std::string& file) const {
    std::string runs;
    {
        const std::lock_guard lock{mutex_};
        runs = settings_.runs;
    }
    if (!has_folder_name(run)) {
        return refusal(DeskRefusal::Kind::not_found, "no such run");
    }
    std::ifstream stream{runs + "/" + run + "/" + file, std::ios::binary};
    if (!stream) {
        return refusal(DeskRefusal::Kind::not_found,
                       run + ": no such run, or it has no " + file + " yet");
    }
    return std::string{std::istreambuf_iterator<char>{stream}, {}};
}

Json RunDesk::bench_status() const {
    std::string path;
    {
        const std::lock_guard lock{mutex_};
        path = settings_.bench;
    }
    // Read without the lock: the run's thread never waits for this disk.
    const auto bench = read_desk_bench(path);
    const std::lock_guard lock{mutex_};
    Json document;
    document["file"] = path;
    document["name"] = bench ? bench->file.name : "";
    document["simulated"] = bench && bench->file.simulated;
    const std::string why = bench ? bench_trouble_ : bench.error();
    document["ready"] = why.empty() && bench_looked_at_;
    document["why"] = bench_looked_at_ || !why.empty() ? why : "being looked at";
    return document;
}

Json RunDesk::status() const {
    Json bench = bench_status();
    const std::lock_guard lock{mutex_};
    Json document;
    document["schema"] = "afterload/status/1";
    document["protocol"] = 1;
    document["build"] = AFTERLOAD_BUILD;
    document["bench"] = std::move(bench);
    document["run"] = position_ ? run_position_json(*position_) : Json{};
    const auto prompt = person_ ? person_->pending() : std::nullopt;
    document["prompt"] = prompt ? pending_prompt_json(*prompt) : Json{};
    document["queue"] =
        Json{{"waiting", queue_.waiting() - (position_ ? 1U : 0U)}, {"limit", queue_.limit()}};
    document["stopping"] = stop_.load();
    document["ending"] = finishing_.load();
    document["runs"] = settings_.runs;
    document["disk_free_bytes"] = free_bytes(settings_.runs).value_or(0);
    document["last_event"] = events_.last_id();
    document["trouble"] = queue_trouble_.empty() ? events_.trouble() : queue_trouble_;
    return document;
}

DeskCounts RunDesk::counts() const {
    const std::lock_guard lock{mutex_};
    return counts_;
}

void RunDesk::change(const DeskSettings& settings) {
    const std::lock_guard lock{mutex_};
    settings_.bench = settings.bench;
    settings_.queue_limit = settings.queue_limit;
    queue_.set_limit(settings.queue_limit);
    bench_looked_at_ = false;
    changed_.notify_all();
}

void RunDesk::finish() {
    const std::lock_guard lock{mutex_};
    finishing_.store(true);
    stop_.store(true);
    changed_.notify_all();
}

bool RunDesk::advances() const {
    if (!running_.load()) {
        return true;
    }
    {
        const std::lock_guard lock{mutex_};
        if (person_ && person_->pending()) {
            return true;  // it waits for a person, with the output muted
        }
    }
    return instruments::monotonic_now() - Seconds{turned_.load()} < longest_turn;
}

void RunDesk::tell_queue(const QueueEntry& entry) {
    events_.tell("queue", queue_entry_json(entry));
}

bool RunDesk::took(const tl::expected<void, std::string>& kept) {
    const std::string why = kept ? std::string{} : kept.error();
    if (!why.empty() && why != queue_trouble_) {
        events_.tell("trouble", Json{{"what", why}});
    }
    queue_trouble_ = why;
    return why.empty();
}

void RunDesk::work() {
    while (true) {
        std::optional<QueueEntry> entry;
        bool look = false;
        {
            std::unique_lock lock{mutex_};
            const auto due = [&] {
                return finishing_.load() || !bench_looked_at_ || queue_.next().has_value();
            };
            while (!due() && queue_.owes()) {
                changed_.wait_for(lock, before_writing_again, due);
                took(queue_.settle());
            }
            changed_.wait(lock, due);
            if (finishing_.load()) {
                took(queue_.settle());
                break;
            }
            look = !bench_looked_at_;
            if (!look) {
                entry = queue_.next();
                entry->state = QueueState::running;
                stop_.store(false);
                position_ = RunPosition{};
                position_->queue_id = entry->id();
                if (!took(queue_.update(*entry))) {
                    // Nothing is driven that the disk does not know of.
                    position_.reset();
                    changed_.wait_for(lock, before_writing_again,
                                      [&] { return finishing_.load(); });
                    continue;
                }
            }
        }
        if (look) {
            look_at_bench();
        } else {
            carry_out_entry(*std::move(entry));
        }
    }
    over_.store(true);
}

void RunDesk::look_at_bench() {
    std::string path;
    {
        const std::lock_guard lock{mutex_};
        path = settings_.bench;
    }
    std::string why;
    const auto bench = read_desk_bench(path);
    if (!bench) {
        why = bench.error();
    } else if (!bench->file.simulated) {
        try {
            AssumedOperator nobody;
            why = run_to_end(trouble_with(bench->file, nobody));
        } catch (const std::exception& error) {
            why = error.what();
        }
    }
    {
        const std::lock_guard lock{mutex_};
        if (settings_.bench != path) {
            return;  // told to change meanwhile: looked at anew
        }
        bench_looked_at_ = true;
        bench_trouble_ = why;
    }
    events_.tell("bench", bench_status());
}

void RunDesk::carry_out_entry(QueueEntry entry) {
    tell_queue(entry);
    QueueEntry outcome = outcome_of(std::move(entry));
    {
        const std::lock_guard lock{record_mutex_};
        if (auto read = record_.refresh(); !read) {
            events_.tell("trouble", Json{{"what", read.error()}});
        }
    }
    const std::lock_guard lock{mutex_};
    took(queue_.conclude(outcome));
    ++counts_.runs[outcome.state == QueueState::done ? outcome.verdict : "refused"];
    if (person_) {
        last_prompt_ = person_->last();
    }
    person_.reset();
    position_.reset();
    tell_queue(outcome);
}

QueueEntry RunDesk::outcome_of(QueueEntry entry) {
    const auto refused = [&](std::string why, int exit_status) {
        entry.state = QueueState::refused;
        entry.why = std::move(why);
        entry.exit_status = exit_status;
        return entry;
    };
    std::string bench_path;
    std::string runs;
    {
        const std::lock_guard lock{mutex_};
        bench_path = settings_.bench;
        runs = settings_.runs;
    }
    // The bench may be another than when the run was submitted.
    auto bench = read_desk_bench(bench_path);
    if (!bench) {
        return refused(bench.error(), exit_no_device);
    }
    RunRequest request = entry.submission->request;
    const bool assume = entry.submission->assume_prompts;
    request.files.push_back(bench->text);
    auto read = plan_of(request);
    if (const auto* mistakes = std::get_if<Mistakes>(&read)) {
        return refused(refusal(*mistakes).value().why, exit_bad_input);
    }
    RunPlan plan = std::get<RunPlan>(std::move(read));
    if (!plan.bench.simulated && assume) {
        return refused("the bench is not a simulated one any more; submit the run again",
                       exit_usage);
    }
    AssumedOperator assumed;
    std::shared_ptr<RemoteOperator> remote;
    {
        const std::lock_guard lock{mutex_};
        remote = std::make_shared<RemoteOperator>(events_, last_prompt_, stop_);
        person_ = remote;
    }
    Operator& person = assume ? static_cast<Operator&>(assumed) : *remote;
    const std::string id = entry.id();
    RunPosition start;
    start.queue_id = id;
    DeskProgress progress{events_, start, [this](const RunPosition& now) {
                              const std::lock_guard lock{mutex_};
                              position_ = now;
                          }};
    turned_.store(instruments::monotonic_now().in<Seconds>());
    running_.store(true);
    const auto turn = [this] { turned_.store(instruments::monotonic_now().in<Seconds>()); };
    try {
        const auto whole =
            run_to_end(whole_run(std::move(plan), runs, person, progress, stop_), turn);
        running_.store(false);
        if (!whole) {
            return refused(whole.error().why, whole.error().exit_status);
        }
        const RunDocument& document = whole->document;
        entry.state = QueueState::done;
        entry.run = document.id;
        entry.verdict = std::string{name(document.verdict)};
        entry.exit_status = exit_status(document);
        entry.why = document.stop_reason;
        const std::lock_guard lock{mutex_};
        counts_.temperatures.clear();
        for (const StepResult& step : document.steps) {
            counts_.retakes += static_cast<int>(step.retakes.size());
            for (const StoredRecord& record : step.records) {
                counts_.gaps += static_cast<int>(std::count_if(
                    record.faults.begin(), record.faults.end(),
                    [](const CaptureFault& fault) { return fault.kind == CaptureFaultKind::gap; }));
            }
            for (const SlowReading& reading : step.readings) {
                if (reading.quantity == "ambient" || reading.quantity == "heat_sink" ||
                    reading.quantity == "load_temperature") {
                    counts_.temperatures[reading.quantity] = reading.value;
                }
            }
        }
        return entry;
    } catch (const std::exception& error) {
        running_.store(false);
        return refused(std::string{"the program itself failed: "} + error.what(), exit_internal);
    }
}

}  // namespace afterload::runner
