#include "instruments/wire/line.hpp"

#include "instruments/monotonic.hpp"
#include "instruments/ticks.hpp"
#include "instruments/wire/scpi_reply.hpp"
#include "instruments/wire/usbtmc_line.hpp"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/asio/experimental/awaitable_operators.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/serial_port.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>
#include <fmt/format.h>

#include <array>
#include <charconv>
#include <chrono>
#include <optional>
#include <string_view>
#include <utility>

namespace afterload::instruments {

namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using Error = boost::system::error_code;
constexpr auto with_error = asio::as_tuple(asio::use_awaitable);

BenchFailure failure(BenchFailure::Kind kind, const std::string& address, std::string asked,
                     std::string answered, Seconds after) {
    return {kind, address, std::move(asked), std::move(answered), after};
}

/// A stream of Asio's as a line.
template <class Stream>
class StreamLine final : public Line {
public:
    StreamLine(Stream stream, std::string address)
        : stream_{std::move(stream)}, address_{std::move(address)} {}

    std::string address() const override { return address_; }

    Task<BenchResult<void>> write(std::string text, Seconds deadline) override {
        using namespace asio::experimental::awaitable_operators;
        const std::string shown_text = "send “" + shown(text) + "”";
        text += '\n';
        asio::steady_timer timer{stream_.get_executor(), ticks(deadline)};
        const auto buffer = asio::buffer(text);
        auto done = co_await (asio::async_write(stream_, buffer, with_error) ||
                              timer.async_wait(with_error));
        if (done.index() == 1) {
            co_return tl::unexpected<BenchFailure>(failure(BenchFailure::Kind::no_reply, address_,
                                                           shown_text, "it takes nothing more",
                                                           deadline));
        }
        const Error error = std::get<0>(std::get<0>(done));
        if (error) {
            co_return tl::unexpected<BenchFailure>(failure(
                BenchFailure::Kind::lost, address_, shown_text, error.message(), Seconds{0.0}));
        }
        co_return BenchResult<void>{};
    }

    Task<BenchResult<std::string>> read(Seconds deadline) override {
        using namespace asio::experimental::awaitable_operators;
        const Seconds begun = monotonic_now();
        const auto passed = [begun] { return monotonic_now() - begun; };
        while (true) {
            if (auto line = take_line(pending_)) {
                co_return *std::move(line);
            }
            if (pending_.size() > longest_line) {
                const std::string start = shown(pending_);
                pending_.clear();
                co_return tl::unexpected<BenchFailure>(
                    failure(BenchFailure::Kind::wrong_reply, address_, "read a reply",
                            fmt::format("more than {} characters without an end: “{}”",
                                        longest_line, start),
                            passed()));
            }
            const Seconds left = deadline - passed();
            if (left <= Seconds{0.0}) {
                co_return tl::unexpected<BenchFailure>(failure(
                    BenchFailure::Kind::no_reply, address_, "read a reply",
                    pending_.empty() ? std::string{"nothing came"}
                                     : "only “" + shown(pending_) + "” came and no end of line",
                    passed()));
            }
            asio::steady_timer timer{stream_.get_executor(), ticks(left)};
            const auto buffer = asio::buffer(block_);
            auto done = co_await (stream_.async_read_some(buffer, with_error) ||
                                  timer.async_wait(with_error));
            if (done.index() == 1) {
                continue;
            }
            const auto& [error, got] = std::get<0>(done);
            if (error) {
                co_return tl::unexpected<BenchFailure>(
                    failure(BenchFailure::Kind::lost, address_, "read a reply",
                            error == asio::error::eof ? std::string{"it closed the connection"}
                                                      : error.message(),
                            passed()));
            }
            pending_.append(block_.data(), got);
        }
    }

    void interrupt() override {
        Error error;
        stream_.cancel(error);
    }

    Task<std::string> unasked() override {
        if constexpr (requires { stream_.non_blocking(true); }) {
            Error error;
            stream_.non_blocking(true, error);
            const std::size_t got = stream_.read_some(asio::buffer(block_), error);
            pending_.append(block_.data(), error ? 0 : got);
        }
        co_return std::exchange(pending_, {});
    }

private:
    Stream stream_;
    std::string address_;
    std::string pending_;
    std::array<char, 1024> block_{};
};

Task<BenchResult<std::unique_ptr<Line>>> open_tcp(std::string address, std::string host,
                                                  std::string port, Seconds deadline) {
    using namespace asio::experimental::awaitable_operators;
    auto executor = co_await asio::this_coro::executor;
    const auto lost = [&](std::string why, Seconds after) {
        return tl::unexpected<BenchFailure>(
            failure(BenchFailure::Kind::lost, address, "connect", std::move(why), after));
    };
    tcp::resolver resolver{executor};
    asio::steady_timer timer{executor, ticks(deadline)};
    auto resolved =
        co_await (resolver.async_resolve(host, port, with_error) || timer.async_wait(with_error));
    if (resolved.index() == 1) {
        co_return lost("its name is not found in time", deadline);
    }
    const auto& [name_error, places] = std::get<0>(resolved);
    if (name_error) {
        co_return lost(name_error.message(), Seconds{0.0});
    }
    tcp::socket socket{executor};
    Error error = asio::error::host_not_found;
    for (const auto& place : places) {
        socket = tcp::socket{executor};
        const tcp::endpoint endpoint = place.endpoint();
        auto connected =
            co_await (socket.async_connect(endpoint, with_error) || timer.async_wait(with_error));
        if (connected.index() == 1) {
            co_return lost("nobody answers there", deadline);
        }
        error = std::get<0>(std::get<0>(connected));
        if (!error) {
            break;
        }
    }
    if (error) {
        co_return lost(error.message(), Seconds{0.0});
    }
    socket.set_option(tcp::no_delay{true}, error);
    std::unique_ptr<Line> line =
        std::make_unique<StreamLine<tcp::socket>>(std::move(socket), std::move(address));
    co_return line;
}

Task<BenchResult<std::unique_ptr<Line>>> open_serial(std::string address, std::string path,
                                                     unsigned baud) {
    auto executor = co_await asio::this_coro::executor;
    asio::serial_port port{executor};
    Error error;
    port.open(path, error);
    if (!error) {
        port.set_option(asio::serial_port::baud_rate{baud}, error);
    }
    if (error) {
        co_return tl::unexpected<BenchFailure>(
            failure(BenchFailure::Kind::lost, address, "open", error.message(), Seconds{0.0}));
    }
    port.set_option(asio::serial_port::character_size{8}, error);
    port.set_option(asio::serial_port::parity{asio::serial_port::parity::none}, error);
    port.set_option(asio::serial_port::stop_bits{asio::serial_port::stop_bits::one}, error);
    port.set_option(asio::serial_port::flow_control{asio::serial_port::flow_control::none}, error);
    std::unique_ptr<Line> line =
        std::make_unique<StreamLine<asio::serial_port>>(std::move(port), std::move(address));
    co_return line;
}

std::optional<unsigned> whole(std::string_view text) {
    unsigned number = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
    return error == std::errc{} && end == text.data() + text.size() ? std::optional{number}
                                                                    : std::nullopt;
}

}  // namespace

std::optional<std::string> take_line(std::string& heard) {
    const auto end = heard.find('\n');
    if (end == std::string::npos) {
        return std::nullopt;
    }
    std::string line = heard.substr(0, end);
    heard.erase(0, end + 1);
    if (line.ends_with('\r')) {
        line.pop_back();
    }
    return line;
}

Task<BenchResult<std::unique_ptr<Line>>> open_line(std::string address, Seconds deadline) {
    constexpr std::string_view tcp_start = "tcp://";
    constexpr std::string_view serial_start = "serial:";
    const std::string_view text = address;
    if (text.starts_with(tcp_start)) {
        const auto colon = text.rfind(':');
        const auto port = whole(text.substr(colon + 1));
        if (colon > tcp_start.size() && port && *port > 0 && *port < 65536) {
            std::string host{text.substr(tcp_start.size(), colon - tcp_start.size())};
            std::string number = std::to_string(*port);
            auto opened = co_await open_tcp(address, std::move(host), std::move(number), deadline);
            co_return opened;
        }
    }
    if (text.starts_with(serial_start)) {
        const auto question = text.find("?baud=");
        std::string path{text.substr(serial_start.size(), question == std::string_view::npos
                                                              ? std::string_view::npos
                                                              : question - serial_start.size())};
        const auto baud = question == std::string_view::npos ? std::optional{9600U}
                                                             : whole(text.substr(question + 6));
        if (!path.empty() && baud) {
            auto opened = co_await open_serial(address, std::move(path), *baud);
            co_return opened;
        }
    }
    constexpr std::string_view usbtmc_start = "usbtmc:";
    if (text.starts_with(usbtmc_start) && text.size() > usbtmc_start.size()) {
        co_return open_usbtmc(address, std::string{text.substr(usbtmc_start.size())});
    }
    co_return tl::unexpected<BenchFailure>(
        failure(BenchFailure::Kind::refused, address, "open",
                "an address is tcp://HOST:PORT, serial:/dev/PATH?baud=9600 or usbtmc:/dev/PATH",
                Seconds{0.0}));
}

}  // namespace afterload::instruments
