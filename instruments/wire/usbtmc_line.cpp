#include "instruments/wire/usbtmc_line.hpp"

#include "instruments/monotonic.hpp"
#include "instruments/wire/scpi_reply.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/thread_pool.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cmath>
#include <fcntl.h>
#include <linux/usb/tmc.h>
#include <poll.h>
#include <sys/ioctl.h>
#include <system_error>
#include <unistd.h>
#include <utility>

namespace afterload::instruments {
namespace {

namespace asio = boost::asio;

class UsbtmcLine final : public Line {
public:
    UsbtmcLine(int descriptor, std::string address)
        : descriptor_{descriptor}, address_{std::move(address)} {}
    ~UsbtmcLine() override {
        thread_.join();
        ::close(descriptor_);
    }
    UsbtmcLine(const UsbtmcLine&) = delete;
    UsbtmcLine& operator=(const UsbtmcLine&) = delete;

    std::string address() const override { return address_; }

    Task<BenchResult<void>> write(std::string text, Seconds deadline) override {
        text += '\n';
        auto sent =
            co_await asio::co_spawn(thread_, send(std::move(text), deadline), asio::use_awaitable);
        co_return sent;
    }

    Task<BenchResult<std::string>> read(Seconds deadline) override {
        auto line = co_await asio::co_spawn(thread_, receive(deadline), asio::use_awaitable);
        co_return line;
    }

    /// A message that was not asked for cannot be told from one that is on its way: the bus only
    /// answers when it is asked to.
    Task<std::string> unasked() override { co_return std::exchange(pending_, {}); }

    void interrupt() override {
        if (kernel_times_) {
            ::ioctl(descriptor_, USBTMC_IOCTL_CLEAR);
        }
    }

private:
    /// False: the deadline is over. Device files that know no timeout are polled.
    bool wait(short what, Seconds deadline) {
        auto milliseconds = static_cast<unsigned>(std::ceil(1e3 * deadline.in<Seconds>()));
        milliseconds = std::max(milliseconds, 100U);  // the least that the kernel takes
        kernel_times_ = ::ioctl(descriptor_, USBTMC_IOCTL_SET_TIMEOUT, &milliseconds) == 0;
        if (kernel_times_) {
            return true;
        }
        pollfd waiting{descriptor_, what, 0};
        return ::poll(&waiting, 1, static_cast<int>(milliseconds)) > 0;
    }

    [[nodiscard]] BenchFailure failed(std::string asked, int error, Seconds begun) const {
        const bool late = error == ETIMEDOUT || error == 0;
        return {late ? BenchFailure::Kind::no_reply : BenchFailure::Kind::lost, address_,
                std::move(asked),
                late ? std::string{"nothing came"} : std::generic_category().message(error),
                monotonic_now() - begun};
    }

    Task<BenchResult<void>> send(std::string text, Seconds deadline) {
        const Seconds begun = monotonic_now();
        const bool ready = wait(POLLOUT, deadline);
        const ssize_t sent = ready ? ::write(descriptor_, text.data(), text.size()) : -1;
        if (sent != static_cast<ssize_t>(text.size())) {
            co_return tl::unexpected<BenchFailure>(
                failed("send “" + shown(text) + "”", ready ? errno : 0, begun));
        }
        co_return BenchResult<void>{};
    }

    Task<BenchResult<std::string>> receive(Seconds deadline) {
        const Seconds begun = monotonic_now();
        while (true) {
            if (auto line = take_line(pending_)) {
                co_return *std::move(line);
            }
            if (pending_.size() > longest_line) {
                const std::string start = shown(std::exchange(pending_, {}));
                co_return tl::unexpected<BenchFailure>(BenchFailure{
                    BenchFailure::Kind::wrong_reply, address_, "read a reply",
                    "it goes on without an end: “" + start + "”", monotonic_now() - begun});
            }
            std::array<char, 1024> block{};
            const Seconds left = deadline - (monotonic_now() - begun);
            const bool ready = left > Seconds{0.0} && wait(POLLIN, left);
            const ssize_t got = ready ? ::read(descriptor_, block.data(), block.size()) : -1;
            if (got <= 0) {
                co_return tl::unexpected<BenchFailure>(
                    failed("read a reply", ready ? errno : 0, begun));
            }
            pending_.append(block.data(), static_cast<std::size_t>(got));
        }
    }

    int descriptor_;
    std::string address_;
    asio::thread_pool thread_{1};
    std::string pending_;
    bool kernel_times_ = false;
};

}  // namespace

BenchResult<std::unique_ptr<Line>> open_usbtmc(const std::string& address,
                                               const std::string& path) {
    const int descriptor = ::open(path.c_str(), O_RDWR | O_CLOEXEC | O_NOCTTY);
    if (descriptor < 0) {
        return tl::unexpected(BenchFailure{BenchFailure::Kind::lost, address, "open",
                                           std::generic_category().message(errno), Seconds{0.0}});
    }
    return std::make_unique<UsbtmcLine>(descriptor, address);
}

}  // namespace afterload::instruments
