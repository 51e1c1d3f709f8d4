#include "instruments/guard/guard.hpp"

#include "instruments/guard/begun_guardian.hpp"
#include "instruments/guard/guard_message.hpp"
#include "instruments/monotonic.hpp"
#include "instruments/ticks.hpp"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <array>
#include <atomic>
#include <cerrno>
#include <chrono>
#include <map>
#include <optional>
#include <stop_token>
#include <sys/socket.h>
#include <sys/wait.h>
#include <thread>
#include <unistd.h>
#include <utility>
#include <vector>

namespace afterload::instruments {

namespace {

namespace asio = boost::asio;
using asio::local::stream_protocol;
constexpr auto with_error = asio::as_tuple(asio::use_awaitable);
constexpr Seconds patience{1.0};  // beyond the deadline that the guardian keeps itself

struct Pending {
    asio::steady_timer answered;
    std::optional<BenchResult<std::string>> result;
};

BenchFailure failure(BenchFailure::Kind kind, std::string asked, std::string answered) {
    return {kind, "guardian", std::move(asked), std::move(answered), Seconds{0.0}};
}

}  // namespace

class Guard::State : public std::enable_shared_from_this<Guard::State> {
public:
    State(const asio::any_io_executor& executor, BegunGuardian begun, Seconds lease)
        : executor_{executor}, socket_{executor}, child_{begun.child}, lease_{lease} {
        socket_.assign(stream_protocol{}, begun.own_end);
        socket_.non_blocking(true);
    }
    ~State() = default;
    State(const State&) = delete;
    State& operator=(const State&) = delete;

    void begin() {
        const auto self = shared_from_this();
        asio::co_spawn(executor_, listen(self), rethrow);
        asio::co_spawn(executor_, beat(self), rethrow);
        GuardRequest lease;
        lease.verb = "lease";
        lease.deadline = lease_;
        send(lease);
        resting_ = std::jthread{
            [descriptor = socket_.native_handle(), every = ticks(lease_ / 6.0),
             this](const std::stop_token& over) { beat_at_rest(over, descriptor, every); }};
    }

    void end() {
        if (resting_.joinable()) {
            resting_.request_stop();
            resting_.join();
        }
        GuardRequest bye;
        bye.verb = "bye";
        send(bye);
        boost::system::error_code error;
        socket_.shutdown(stream_protocol::socket::shutdown_send, error);
        for (int look = 0; look < 100 && !hung_up(); ++look) {
            ::usleep(10000);
        }
        socket_.close(error);
        for (int look = 0; child_ > 0 && look < 100; ++look) {
            int status = 0;
            if (::waitpid(child_, &status, WNOHANG) != 0) {
                return;
            }
            ::usleep(10000);
        }
    }

    void send(const GuardRequest& request) {
        if (!lost_.empty()) {
            return;
        }
        boost::system::error_code error;
        const std::string line = written(request);
        std::size_t sent = 0;
        while (sent < line.size() && !error) {
            sent += socket_.write_some(asio::buffer(line.data() + sent, line.size() - sent), error);
        }
    }

    void driving(bool on) {
        driving_ = on;
        GuardRequest request;
        request.verb = "driving";
        request.text = on ? "1" : "0";
        send(request);
    }

    [[nodiscard]] int next_line() { return ++lines_; }
    [[nodiscard]] const std::string& lost() const { return lost_; }
    /// Once: the exchange that meets the loss fails, what comes after may make safe.
    [[nodiscard]] bool tell_loss() { return !std::exchange(loss_told_, true); }
    void keep(SafeCommand command) { kept_.push_back(std::move(command)); }

    static Task<BenchResult<std::string>> call(std::shared_ptr<State> self, GuardRequest request) {
        const std::string asked = request.verb + " " + request.text;
        if (!self->lost_.empty()) {
            self->loss_told_ = true;
            co_return tl::unexpected<BenchFailure>(
                failure(BenchFailure::Kind::lost, asked, self->lost_));
        }
        const std::uint64_t id = ++self->requests_;
        request.id = id;
        const Seconds limit = request.deadline + patience;
        auto pending = std::make_shared<Pending>(
            Pending{asio::steady_timer{self->executor_, ticks(limit)}, std::nullopt});
        self->pending_[id] = pending;
        self->send(request);
        co_await pending->answered.async_wait(with_error);
        self->pending_.erase(id);
        if (pending->result) {
            co_return *std::move(pending->result);
        }
        if (!self->lost_.empty()) {
            self->loss_told_ = true;
        }
        co_return tl::unexpected<BenchFailure>(
            failure(self->lost_.empty() ? BenchFailure::Kind::no_reply : BenchFailure::Kind::lost,
                    asked, self->lost_.empty() ? "it does not answer" : self->lost_));
    }

private:
    /// The guardian has closed its end: it is done.
    [[nodiscard]] bool hung_up() {
        std::array<char, 4096> unread{};
        ssize_t got = 1;
        while (got > 0) {
            got = ::recv(socket_.native_handle(), unread.data(), unread.size(), MSG_DONTWAIT);
        }
        return got == 0 || (errno != EAGAIN && errno != EINTR);
    }

    static Task<void> listen(std::shared_ptr<State> self) {
        std::string heard;
        std::array<char, 4096> block{};
        while (true) {
            const auto buffer = asio::buffer(block);
            const auto [error, got] = co_await self->socket_.async_read_some(buffer, with_error);
            if (error == asio::error::operation_aborted || !self->socket_.is_open()) {
                co_return;
            }
            if (error) {
                break;
            }
            heard.append(block.data(), got);
            while (const auto line = take_line(heard)) {
                if (auto reply = guard_reply(*line)) {
                    self->answer(*std::move(reply));
                }
            }
        }
        self->lost_ = "the guardian is gone: nothing drives without it";
        for (const auto& [id, pending] : self->pending_) {
            pending->answered.cancel();
        }
        for (SafeCommand command : self->kept_) {
            co_await turn_off_ourselves(std::move(command));
        }
    }

    /// The guardian's line went down with it, so that the instrument takes another client.
    static Task<void> turn_off_ourselves(SafeCommand command) {
        constexpr Seconds one_try{0.3};
        for (int attempt = 0; attempt < 10; ++attempt) {
            std::string address = command.address;
            auto line = co_await open_line(std::move(address), one_try);
            if (line) {
                SafeCommand again = command;
                const auto off = co_await turn_off(**line, std::move(again), one_try);
                if (off) {
                    co_return;
                }
            }
        }
    }

    void answer(GuardReply reply) {
        const auto found = pending_.find(reply.id);
        if (found != pending_.end()) {
            found->second->result = std::move(reply.result);
            found->second->answered.cancel();
        }
    }

    static Task<void> beat(std::shared_ptr<State> self) {
        asio::steady_timer timer{self->executor_};
        GuardRequest sign;
        sign.verb = "beat";
        while (self->lost_.empty() && self->socket_.is_open()) {
            self->send(sign);
            timer.expires_after(ticks(self->lease_ / 6.0));
            co_await timer.async_wait(with_error);
        }
    }

    /// While nothing drives, the program may wait for a person without a word from its loop.
    void beat_at_rest(const std::stop_token& over, int descriptor,
                      std::chrono::nanoseconds every) const {
        GuardRequest sign;
        sign.verb = "beat";
        const std::string line = written(sign);
        while (!over.stop_requested()) {
            if (!driving_) {
                (void)::send(descriptor, line.data(), line.size(), MSG_NOSIGNAL | MSG_DONTWAIT);
            }
            std::this_thread::sleep_for(every);
        }
    }

    asio::any_io_executor executor_;
    stream_protocol::socket socket_;
    std::jthread resting_;
    std::atomic<bool> driving_{false};
    pid_t child_;
    Seconds lease_;
    std::map<std::uint64_t, std::shared_ptr<Pending>> pending_;
    std::vector<SafeCommand> kept_;
    std::uint64_t requests_ = 0;
    int lines_ = 0;
    std::string lost_;
    bool loss_told_ = false;
};

Task<BenchResult<std::shared_ptr<Guard>>> Guard::start(std::string program, Seconds lease) {
    auto executor = co_await asio::this_coro::executor;
    const auto begun = begin_guardian(program);
    if (!begun) {
        co_return tl::unexpected<BenchFailure>(begun.error());
    }
    auto state = std::make_shared<State>(executor, *begun, lease);
    state->begin();
    co_return std::shared_ptr<Guard>{new Guard{std::move(state)}};
}

Guard::~Guard() {
    state_->end();
}

void Guard::driving(bool on) {
    state_->driving(on);
}

std::string Guard::lost() const {
    return state_->lost();
}

Task<BenchResult<std::unique_ptr<GuardedLine>>> Guard::open(std::string address, Seconds deadline) {
    const int number = state_->next_line();
    // The address is locked before it is touched: many instruments take one client only, and the
    // second would wait in vain.
    for (const char* const verb : {"lock", "open"}) {
        GuardRequest request{0, verb, number, deadline, address};
        const auto done = co_await State::call(state_, std::move(request));
        if (!done) {
            BenchFailure why = done.error();
            why.instrument = address;
            why.asked = "open";
            co_return tl::unexpected<BenchFailure>(std::move(why));
        }
    }
    co_return std::make_unique<GuardedLine>(state_, number, std::move(address));
}

GuardedLine::GuardedLine(std::shared_ptr<Guard::State> guard, int number, std::string address)
    : guard_{std::move(guard)}, number_{number}, address_{std::move(address)} {}
GuardedLine::~GuardedLine() = default;

/// Without a guardian: the first exchange fails, what comes after it makes safe over our own line.
Task<BenchResult<void>> GuardedLine::open_own(Seconds deadline) {
    if (guard_->tell_loss()) {
        co_return tl::unexpected<BenchFailure>(
            failure(BenchFailure::Kind::lost, "go on", guard_->lost()));
    }
    if (!own_) {
        std::string address = address_;
        auto opened = co_await open_line(std::move(address), deadline);
        if (!opened) {
            co_return tl::unexpected<BenchFailure>(std::move(opened.error()));
        }
        own_ = *std::move(opened);
    }
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> GuardedLine::write(std::string text, Seconds deadline) {
    if (!guard_->lost().empty()) {
        auto opened = co_await open_own(deadline);
        if (!opened) {
            co_return opened;
        }
        auto sent = co_await own_->write(std::move(text), deadline);
        co_return sent;
    }
    GuardRequest request{0, "write", number_, deadline, std::move(text)};
    const auto sent = co_await Guard::State::call(guard_, std::move(request));
    if (!sent) {
        co_return tl::unexpected<BenchFailure>(sent.error());
    }
    co_return BenchResult<void>{};
}

Task<BenchResult<std::string>> GuardedLine::read(Seconds deadline) {
    if (!guard_->lost().empty()) {
        const auto opened = co_await open_own(deadline);
        if (!opened) {
            co_return tl::unexpected<BenchFailure>(opened.error());
        }
        auto answer = co_await own_->read(deadline);
        co_return answer;
    }
    GuardRequest request{0, "read", number_, deadline, ""};
    auto answer = co_await Guard::State::call(guard_, std::move(request));
    co_return answer;
}

Task<std::string> GuardedLine::unasked() {
    if (own_) {
        auto text = co_await own_->unasked();
        co_return text;
    }
    GuardRequest request{0, "unasked", number_, Seconds{1.0}, ""};
    auto text = co_await Guard::State::call(guard_, std::move(request));
    co_return text.value_or(std::string{});
}

void GuardedLine::interrupt() {
    if (own_) {
        own_->interrupt();
    }
}

Task<BenchResult<void>> GuardedLine::lock(std::string identity) {
    GuardRequest request{0, "lock", number_, Seconds{1.0}, std::move(identity)};
    const auto locked = co_await Guard::State::call(guard_, std::move(request));
    if (!locked) {
        co_return tl::unexpected<BenchFailure>(locked.error());
    }
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> GuardedLine::keep_safe(SafeCommand command) {
    GuardRequest request{0, "keep_safe", number_, Seconds{1.0}, written(command)};
    const auto kept = co_await Guard::State::call(guard_, std::move(request));
    if (!kept) {
        co_return tl::unexpected<BenchFailure>(kept.error());
    }
    guard_->keep(std::move(command));
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> GuardedLine::keep_refreshed(std::string refresh, std::string release,
                                                    Seconds every) {
    GuardRequest request{0, "refresh", number_, every, refresh + '\t' + release};
    const auto kept = co_await Guard::State::call(guard_, std::move(request));
    if (!kept) {
        co_return tl::unexpected<BenchFailure>(kept.error());
    }
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> GuardedLine::let_go() {
    GuardRequest request{0, "let_go", number_, Seconds{1.0}, {}};
    const auto gone = co_await Guard::State::call(guard_, std::move(request));
    if (!gone) {
        co_return tl::unexpected<BenchFailure>(gone.error());
    }
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> GuardedSource::play(Stimulus stimulus) {
    if (stimulus.silent()) {
        auto muted = co_await mute();
        co_return muted;
    }
    if (const std::string why = guard_->lost(); !why.empty()) {
        co_return tl::unexpected<BenchFailure>(failure(BenchFailure::Kind::refused, "play", why));
    }
    guard_->driving(true);
    auto played = co_await source_->play(std::move(stimulus));
    co_return played;
}

Task<BenchResult<void>> GuardedSource::mute() {
    auto muted = co_await source_->mute();
    if (muted) {
        guard_->driving(false);
    }
    co_return muted;
}

}  // namespace afterload::instruments
