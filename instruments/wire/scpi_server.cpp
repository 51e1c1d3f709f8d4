#include "instruments/wire/scpi_server.hpp"

#include "instruments/wire/line.hpp"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/buffer.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>

#include <arpa/inet.h>
#include <array>
#include <cerrno>
#include <netinet/in.h>
#include <sys/socket.h>
#include <system_error>
#include <unistd.h>
#include <utility>

namespace afterload::instruments {

namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
constexpr auto with_error = asio::as_tuple(asio::use_awaitable);

int listening_at(std::uint16_t port) {
    const int descriptor = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    const int yes = 1;
    sockaddr_in place{};
    place.sin_family = AF_INET;
    place.sin_port = htons(port);
    place.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    const auto* const address = reinterpret_cast<const sockaddr*>(&place);
    if (descriptor < 0 ||
        ::setsockopt(descriptor, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes) != 0 ||
        ::bind(descriptor, address, sizeof place) != 0 || ::listen(descriptor, 4) != 0) {
        const int error = errno;
        if (descriptor >= 0) {
            ::close(descriptor);
        }
        throw std::system_error(error, std::generic_category(),
                                "port " + std::to_string(port) + " of this machine");
    }
    return descriptor;
}

std::uint16_t port_of(int descriptor) {
    sockaddr_in place{};
    socklen_t size = sizeof place;
    ::getsockname(descriptor, reinterpret_cast<sockaddr*>(&place), &size);
    return ntohs(place.sin_port);
}

Task<void> talk(tcp::socket client, const ScpiServer::Answer& answer) {
    std::string heard;
    std::array<char, 1024> block{};
    while (true) {
        const auto line = take_line(heard);
        if (!line) {
            if (heard.size() > longest_line) {
                co_return;
            }
            const auto buffer = asio::buffer(block);
            const auto [error, got] = co_await client.async_read_some(buffer, with_error);
            if (error) {
                co_return;
            }
            heard.append(block.data(), got);
            continue;
        }
        if (auto reply = answer(*line)) {
            *reply += '\n';
            const auto buffer = asio::buffer(*reply);
            const auto [error, sent] = co_await asio::async_write(client, buffer, with_error);
            if (error) {
                co_return;
            }
        }
    }
}

}  // namespace

ScpiServer::ScpiServer(std::uint16_t port, Answer answer)
    : answer_{std::move(answer)}, listening_{listening_at(port)}, port_{port_of(listening_)} {}

ScpiServer::~ScpiServer() {
    if (listening_ >= 0) {
        ::close(listening_);
    }
}

Task<void> ScpiServer::serve() {
    auto executor = co_await asio::this_coro::executor;
    tcp::acceptor acceptor{executor};
    acceptor.assign(tcp::v4(), std::exchange(listening_, -1));
    while (true) {
        auto [error, client] = co_await acceptor.async_accept(with_error);
        if (error) {
            co_return;
        }
        co_await talk(std::move(client), answer_);
    }
}

}  // namespace afterload::instruments
