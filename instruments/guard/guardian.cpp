#include "instruments/guard/guardian.hpp"

#include "instruments/guard/guard_message.hpp"
#include "instruments/guard/runtime_folder.hpp"
#include "instruments/monotonic.hpp"
#include "instruments/ticks.hpp"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <fmt/format.h>

#include <array>
#include <cerrno>
#include <cstdlib>
#include <deque>
#include <map>
#include <optional>
#include <poll.h>
#include <system_error>
#include <unistd.h>
#include <utility>
#include <vector>

namespace afterload::instruments {

namespace {

namespace asio = boost::asio;
using asio::local::stream_protocol;
constexpr auto with_error = asio::as_tuple(asio::use_awaitable);
constexpr Seconds one_try{0.25};  // an off command and its confirmation
constexpr Seconds between_tries{0.1};
constexpr int most_tries = 200;
constexpr std::size_t longest_request = 65536;

/// An instrument that the program opened.
struct Held {
    std::string address;
    std::unique_ptr<Line> line;
    std::deque<GuardRequest> waiting;
    std::unique_ptr<asio::steady_timer> wake;
    bool busy = false;
    std::vector<int> locks;

    Held() = default;
    Held(const Held&) = delete;
    Held& operator=(const Held&) = delete;
    ~Held() {
        for (const int lock : locks) {
            ::close(lock);
        }
    }
};

struct OffEntry {
    int line = 0;
    SafeCommand command;
    bool confirmed = false;
    std::string outcome = "not asked yet";
};

struct Refreshed {
    int line = 0;
    Seconds every;
    std::string refresh;
    std::string release;
    bool let_go = false;
};

BenchFailure guard_failure(BenchFailure::Kind kind, std::string answered) {
    return {kind, "guardian", "", std::move(answered), Seconds{0.0}};
}

Task<void> wait_for(Seconds time) {
    auto executor = co_await asio::this_coro::executor;
    asio::steady_timer timer{executor, ticks(time)};
    co_await timer.async_wait(with_error);
}

}  // namespace

class Guardian::State : public std::enable_shared_from_this<Guardian::State> {
public:
    State(int program, GuardianSettings settings)
        : program_descriptor_{program}, settings_{std::move(settings)} {}
    ~State() {
        if (program_descriptor_ >= 0) {
            ::close(program_descriptor_);
        }
        if (!settings_.door.empty()) {
            ::unlink(settings_.door.c_str());
        }
    }
    State(const State&) = delete;
    State& operator=(const State&) = delete;

    Task<bool> watch() {
        executor_ = co_await asio::this_coro::executor;
        program_.emplace(executor_);
        program_->assign(stream_protocol{}, std::exchange(program_descriptor_, -1));
        program_->non_blocking(true);
        acts_ = std::make_unique<asio::steady_timer>(executor_);
        acts_->expires_at(asio::steady_timer::time_point::max());
        const auto self = shared_from_this();
        asio::co_spawn(executor_, listen(self), rethrow);
        asio::co_spawn(executor_, watch_lease(self), rethrow);
        if (!settings_.door.empty()) {
            asio::co_spawn(executor_, answer_door(self), rethrow);
        }
        while (!program_gone_ && !(ending_ && done_)) {
            if (why_.empty()) {
                co_await acts_->async_wait(with_error);
                continue;
            }
            if (!done_) {
                co_await make_all_safe();
                done_ = true;
            }
            co_await wait_for(Seconds{0.02});
        }
        // Gone in the middle of what it was stopped for, or only now: off is said once more, since
        // nobody knows what went out last.
        co_await make_all_safe();
        done_ = true;
        co_await wait_for(Seconds{0.02});
        const bool all_off = all_confirmed();
        co_return all_off;
    }

    void end(const std::string& why) {
        ending_ = true;
        act(why);
    }

    void act(const std::string& why) {
        if (why_.empty()) {
            why_ = why;
            driving_ = false;
        }
        if (acts_) {
            acts_->cancel();
        }
    }

private:
    /// Coroutines hold the state that they work on: the guardian may be gone before they are.
    static Task<void> listen(std::shared_ptr<State> self) {
        std::string heard;
        std::array<char, 4096> block{};
        while (true) {
            const auto buffer = asio::buffer(block);
            const auto [error, got] = co_await self->program_->async_read_some(buffer, with_error);
            if (error || heard.size() > longest_request) {
                break;
            }
            heard.append(block.data(), got);
            while (const auto line = take_line(heard)) {
                if (const auto request = guard_request(*line)) {
                    self->take(*request);
                }
            }
        }
        self->program_gone_ = true;
        self->act("the program is gone");
    }

    void take(const GuardRequest& request) {
        last_sign_ = monotonic_now();
        if (request.verb == "beat") {
            return;
        }
        if (request.verb == "driving") {
            driving_ = request.text == "1" && why_.empty();
            return;
        }
        if (request.verb == "bye") {
            orderly_ = true;
            return;
        }
        if (request.verb == "lease") {
            settings_.lease = request.deadline;
            return;
        }
        auto& held = held_[request.line];
        if (!held) {
            held = std::make_shared<Held>();
            held->wake = std::make_unique<asio::steady_timer>(executor_);
            asio::co_spawn(executor_, serve(shared_from_this(), held), rethrow);
        }
        held->waiting.push_back(request);
        held->wake->cancel();
    }

    static Task<void> serve(std::shared_ptr<State> self, std::shared_ptr<Held> held) {
        while (true) {
            if (held->waiting.empty()) {
                held->wake->expires_at(asio::steady_timer::time_point::max());
                co_await held->wake->async_wait(with_error);
                continue;
            }
            GuardRequest request = std::move(held->waiting.front());
            held->waiting.pop_front();
            held->busy = true;
            const std::uint64_t id = request.id;
            auto result = co_await self->carry_out(*held, std::move(request));
            held->busy = false;
            self->reply(id, std::move(result));
        }
    }

    Task<BenchResult<std::string>> carry_out(Held& held, GuardRequest request) {
        if (!why_.empty()) {
            co_return tl::unexpected<BenchFailure>(
                guard_failure(BenchFailure::Kind::refused, "the guardian made safe: " + why_));
        }
        if (request.verb == "open") {
            held.address = request.text;
            std::string address = request.text;
            auto opened = co_await open_line(std::move(address), request.deadline);
            if (!opened) {
                co_return tl::unexpected<BenchFailure>(std::move(opened.error()));
            }
            held.line = *std::move(opened);
            co_return std::string{};
        }
        if (request.verb == "lock") {
            co_return lock(held, request.text);
        }
        if (!held.line) {
            co_return tl::unexpected<BenchFailure>(
                guard_failure(BenchFailure::Kind::refused, "the instrument is not open"));
        }
        if (request.verb == "write") {
            const auto sent = co_await held.line->write(std::move(request.text), request.deadline);
            if (!sent) {
                co_return tl::unexpected<BenchFailure>(sent.error());
            }
            co_return std::string{};
        }
        if (request.verb == "read") {
            auto answer = co_await held.line->read(request.deadline);
            co_return answer;
        }
        if (request.verb == "unasked") {
            auto text = co_await held.line->unasked();
            co_return text;
        }
        co_return arrange(request);
    }

    static BenchResult<std::string> lock(Held& held, const std::string& what) {
        try {
            const int descriptor = lock_instrument(what);
            if (descriptor < 0) {
                return tl::unexpected(guard_failure(BenchFailure::Kind::refused,
                                                    "another program on this machine drives it"));
            }
            held.locks.push_back(descriptor);
            return std::string{};
        } catch (const std::system_error& error) {
            return tl::unexpected(guard_failure(BenchFailure::Kind::refused, error.what()));
        }
    }

    /// What is kept for later: off commands, the contactor.
    BenchResult<std::string> arrange(const GuardRequest& request) {
        if (request.verb == "keep_safe") {
            auto command = safe_command(request.text);
            if (command) {
                off_.push_back({request.line, *std::move(command)});
                return std::string{};
            }
        }
        const auto between = request.text.find('\t');
        if (request.verb == "refresh" && between != std::string::npos) {
            refreshed_.push_back({request.line, request.deadline, request.text.substr(0, between),
                                  request.text.substr(between + 1), false});
            asio::co_spawn(executor_, refresh(shared_from_this(), refreshed_.back()), rethrow);
            return std::string{};
        }
        if (request.verb == "let_go") {
            return let_one_go(request.line);
        }
        return tl::unexpected(
            guard_failure(BenchFailure::Kind::refused, "“" + request.verb + "” is no request"));
    }

    /// The program itself wants the contactor open: it is refreshed no more.
    BenchResult<std::string> let_one_go(int line) {
        bool known = false;
        for (Refreshed& contactor : refreshed_) {
            if (contactor.line != line) {
                continue;
            }
            known = true;
            contactor.let_go = true;
            if (!contactor.release.empty()) {
                GuardRequest release;
                release.verb = "write";
                release.line = line;
                release.deadline = one_try;
                release.text = contactor.release;
                take_own(std::move(release));
            }
        }
        if (!known) {
            return tl::unexpected(
                guard_failure(BenchFailure::Kind::refused, "it holds no contactor"));
        }
        return std::string{};
    }

    [[nodiscard]] bool still_held(const Refreshed& contactor) const {
        return std::any_of(refreshed_.begin(), refreshed_.end(), [&](const Refreshed& one) {
            return one.line == contactor.line && one.refresh == contactor.refresh && !one.let_go;
        });
    }

    /// A contactor is held only while the program shows signs of life.
    static Task<void> refresh(std::shared_ptr<State> self, Refreshed contactor) {
        while (self->why_.empty() && self->still_held(contactor)) {
            if (monotonic_now() - self->last_sign_ < self->settings_.lease) {
                GuardRequest request;
                request.verb = "write";
                request.line = contactor.line;
                request.deadline = one_try;
                request.text = contactor.refresh;
                self->take_own(std::move(request));
            }
            co_await wait_for(contactor.every);
        }
    }

    /// Queued as the program's requests are, but no sign of its life.
    void take_own(GuardRequest request) {
        const auto held = held_.find(request.line);
        if (held != held_.end()) {
            held->second->waiting.push_back(std::move(request));
            held->second->wake->cancel();
        }
    }

    static Task<void> watch_lease(std::shared_ptr<State> self) {
        while (self->why_.empty()) {
            co_await wait_for(Seconds{0.02});
            const Seconds silent = monotonic_now() - self->last_sign_;
            if (self->driving_ && silent > self->settings_.lease) {
                self->act(fmt::format("no sign of life from the program for {:.2f} s",
                                      silent.in<Seconds>()));
            }
        }
    }

    Task<void> make_all_safe() {
        for (const auto& [number, held] : held_) {
            held->waiting.clear();
            if (held->busy && held->line) {
                held->line->interrupt();
            }
        }
        for (int look = 0; look < 50 && any_busy(); ++look) {
            co_await wait_for(Seconds{0.002});
        }
        for (OffEntry& entry : off_) {
            entry.confirmed = false;
        }
        for (int attempt = 0; attempt < most_tries; ++attempt) {
            for (OffEntry& entry : off_) {
                if (!entry.confirmed) {
                    co_await try_off(entry, attempt);
                }
            }
            if (attempt == 0) {
                co_await let_go();
            }
            if (all_confirmed()) {
                break;
            }
            co_await wait_for(between_tries);
        }
        if (orderly_ && all_confirmed()) {
            co_return;
        }
        settings_.say(why_ + (off_.empty() ? ": nothing to turn off" : ":"));
        for (const OffEntry& entry : off_) {
            settings_.say(fmt::format("  {}: {}", entry.command.instrument, entry.outcome));
        }
    }

    Task<void> try_off(OffEntry& entry, int attempt) {
        Held& held = *held_.at(entry.line);
        if (attempt > 0 || !held.line) {
            held.line.reset();
            std::string address = entry.command.address;
            auto opened = co_await open_line(std::move(address), one_try);
            if (!opened) {
                entry.outcome = "NOT CONFIRMED: " + opened.error().answered;
                co_return;
            }
            held.line = *std::move(opened);
        }
        SafeCommand command = entry.command;
        const auto off = co_await turn_off(*held.line, std::move(command), one_try);
        entry.confirmed = off.has_value();
        entry.outcome = off ? "off, confirmed" : "NOT CONFIRMED: " + off.error().answered;
    }

    /// Contactors drop out by themselves; where there is a command for it, at once.
    Task<void> let_go() {
        for (const Refreshed& contactor : refreshed_) {
            const auto held = held_.find(contactor.line);
            if (!contactor.release.empty() && held != held_.end() && held->second->line) {
                std::string release = contactor.release;
                (void)co_await held->second->line->write(std::move(release), one_try);
            }
        }
    }

    [[nodiscard]] bool any_busy() const {
        for (const auto& [number, held] : held_) {
            if (held->busy) {
                return true;
            }
        }
        return false;
    }

    [[nodiscard]] bool all_confirmed() const {
        for (const OffEntry& entry : off_) {
            if (!entry.confirmed) {
                return false;
            }
        }
        return true;
    }

    void reply(std::uint64_t id, BenchResult<std::string> result) {
        if (id == 0 || !program_) {
            return;
        }
        // A program that does not read its replies is hanging, and they are of no use to it.
        boost::system::error_code error;
        const std::string line = written(GuardReply{id, std::move(result)});
        program_->write_some(asio::buffer(line), error);
    }

    static Task<void> answer_door(std::shared_ptr<State> self) {
        ::unlink(self->settings_.door.c_str());
        stream_protocol::acceptor acceptor{self->executor_};
        boost::system::error_code bound;
        acceptor.open(stream_protocol{}, bound);
        acceptor.bind(stream_protocol::endpoint{self->settings_.door}, bound);
        acceptor.listen(4, bound);
        while (!bound) {
            auto [error, caller] = co_await acceptor.async_accept(with_error);
            if (error) {
                co_return;
            }
            self->act("told to stop");
            while (!self->done_) {
                co_await wait_for(Seconds{0.005});
            }
            std::string report;
            for (const OffEntry& entry : self->off_) {
                report += entry.command.instrument + ": " + entry.outcome + "\n";
            }
            caller.write_some(asio::buffer(report), bound);
            bound.clear();
        }
    }

    int program_descriptor_;
    GuardianSettings settings_;
    asio::any_io_executor executor_;
    std::optional<stream_protocol::socket> program_;
    std::map<int, std::shared_ptr<Held>> held_;
    std::vector<OffEntry> off_;
    std::vector<Refreshed> refreshed_;
    std::unique_ptr<asio::steady_timer> acts_;
    Seconds last_sign_ = monotonic_now();
    bool driving_ = false;
    bool program_gone_ = false;
    bool orderly_ = false;  // the program said that it ends
    bool ending_ = false;   // the guardian itself was told to end
    bool done_ = false;
    std::string why_;
};

Guardian::Guardian(int program, GuardianSettings settings)
    : state_{std::make_shared<State>(program, std::move(settings))} {}
Guardian::~Guardian() = default;

Task<bool> Guardian::watch() {
    const bool all_off = co_await state_->watch();
    co_return all_off;
}

void Guardian::end(const std::string& why) {
    state_->end(why);
}

BenchResult<std::string> tell_guardian_to_stop(const std::string& door, Seconds deadline) {
    const auto failed = [&](BenchFailure::Kind kind, const std::string& why) {
        return tl::unexpected(
            BenchFailure{kind, "guardian", "stop", door + ": " + why, Seconds{0.0}});
    };
    const int descriptor = connect_to_door(door);
    if (descriptor < 0) {
        return failed(BenchFailure::Kind::lost,
                      descriptor == -ENAMETOOLONG ? "its name is too long" : "nobody is there");
    }
    std::string report;
    const Seconds begun = monotonic_now();
    while (monotonic_now() - begun < deadline) {
        pollfd waiting{descriptor, POLLIN, 0};
        if (::poll(&waiting, 1, 50) <= 0) {
            continue;
        }
        std::array<char, 1024> block{};
        const ssize_t got = ::read(descriptor, block.data(), block.size());
        if (got <= 0) {
            ::close(descriptor);
            return report;
        }
        report.append(block.data(), static_cast<std::size_t>(got));
    }
    ::close(descriptor);
    return failed(BenchFailure::Kind::no_reply, "it does not answer");
}

}  // namespace afterload::instruments
