#include "runner/client/daemon_client.hpp"

#include "instruments/guard/runtime_folder.hpp"
#include "runner/papers/json_place.hpp"

#include <boost/asio/io_context.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <fmt/format.h>

#include <cstdlib>
#include <exception>
#include <filesystem>
#include <sys/socket.h>
#include <sys/time.h>
#include <utility>

namespace afterload::runner {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using asio::local::stream_protocol;
using boost::system::error_code;

constexpr const char* system_socket = "/run/afterload/afterload.sock";
constexpr int patience_seconds = 60;

std::string found_socket() {
    // NOLINTNEXTLINE(concurrency-mt-unsafe): nobody sets it
    if (const char* const named = std::getenv("AFTERLOAD_SOCKET")) {
        return named;
    }
    const std::string own = instruments::runtime_folder() + "/afterload.sock";
    std::error_code error;
    return !std::filesystem::exists(own, error) && std::filesystem::exists(system_socket, error)
               ? system_socket
               : own;
}

/// What a problem document says.
ClientFailure failure_of(int status, const std::string& body) {
    ClientFailure failure{false, status, fmt::format("afterloadd answered {}", status),
                          Json::array()};
    if (const auto document = parse_json(body); document && document->is_object()) {
        failure.why = document->value("title", failure.why);
        failure.mistakes = document->value("mistakes", Json::array());
    }
    return failure;
}

/// Fails where nobody listens.
tl::expected<stream_protocol::socket, ClientFailure> connected(asio::io_context& context,
                                                               const std::string& path) {
    stream_protocol::socket socket{context};
    error_code error;
    socket.connect(stream_protocol::endpoint{path}, error);
    if (error) {
        return tl::unexpected(ClientFailure{
            true, 0, fmt::format("{}: no afterloadd answers there: {}", path, error.message()),
            Json::array()});
    }
    return socket;
}

}  // namespace

DaemonClient::DaemonClient(std::string socket)
    : socket_{socket.empty() ? found_socket() : std::move(socket)} {}

tl::expected<std::string, ClientFailure> DaemonClient::ask(std::string_view method,
                                                           std::string_view target,
                                                           std::string_view body) const {
    try {
        asio::io_context context;
        auto door = connected(context, socket_);
        if (!door) {
            return tl::unexpected(std::move(door.error()));
        }
        stream_protocol::socket& socket = *door;
        error_code error;
        const timeval patience{patience_seconds, 0};
        setsockopt(socket.native_handle(), SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
        setsockopt(socket.native_handle(), SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof patience);
        http::request<http::string_body> request;
        request.method_string({method.data(), method.size()});
        request.target({target.data(), target.size()});
        request.version(11);
        request.set(http::field::host, "localhost");
        request.set(http::field::content_type, "application/json");
        request.keep_alive(false);
        request.body() = std::string{body};
        request.prepare_payload();
        http::write(socket, request, error);
        // A refusal may come before all was taken: it is read all the same.
        beast::flat_buffer buffer;
        http::response_parser<http::string_body> parser;
        parser.body_limit(std::uint64_t{256} << 20U);
        http::read(socket, buffer, parser, error);
        if (error && error != http::error::end_of_stream) {
            return tl::unexpected(ClientFailure{
                false, 0,
                fmt::format("{}: afterloadd did not answer: {}", socket_, error.message()),
                Json::array()});
        }
        const auto& response = parser.get();
        const int status = static_cast<int>(response.result_int());
        if (status >= 300) {
            return tl::unexpected(failure_of(status, response.body()));
        }
        return response.body();
    } catch (const std::exception& error) {
        return tl::unexpected(
            ClientFailure{false, 0, fmt::format("{}: {}", socket_, error.what()), Json::array()});
    }
}

tl::expected<Json, ClientFailure> DaemonClient::ask_json(std::string_view method,
                                                         std::string_view target,
                                                         const Json& body) const {
    const auto answer = ask(method, target, body.is_null() ? std::string{} : json_line(body));
    if (!answer) {
        return tl::unexpected(answer.error());
    }
    auto document = parse_json(*answer);
    if (!document) {
        return tl::unexpected(ClientFailure{
            false, 200, "afterloadd answered what is no JSON: " + document.error(), Json::array()});
    }
    return *std::move(document);
}

tl::expected<bool, ClientFailure> DaemonClient::follow(
    std::optional<std::uint64_t>& last, const std::function<bool(const Json&)>& use) const {
    asio::io_context context;
    auto door = connected(context, socket_);
    if (!door) {
        return tl::unexpected(std::move(door.error()));
    }
    stream_protocol::socket& socket = *door;
    error_code error;
    const std::string from = last ? fmt::format("Last-Event-ID: {}\r\n", *last) : std::string{};
    const std::string request = fmt::format(
        "GET /v1/events HTTP/1.1\r\nHost: localhost\r\nAccept: application/x-ndjson\r\n{}\r\n",
        from);
    asio::write(socket, asio::buffer(request), error);
    beast::flat_buffer buffer;
    http::response_parser<http::empty_body> header;
    if (!error) {
        http::read_header(socket, buffer, header, error);
    }
    if (!error && header.get().result_int() != 200) {
        return tl::unexpected(failure_of(static_cast<int>(header.get().result_int()), {}));
    }
    std::string text{static_cast<const char*>(buffer.data().data()), buffer.size()};
    while (!error) {
        std::size_t end = 0;
        while ((end = text.find('\n')) != std::string::npos) {
            const auto event = parse_json(std::string_view{text}.substr(0, end));
            text.erase(0, end + 1);
            if (!event || !event->is_object()) {
                continue;
            }
            if (event->contains("id")) {
                last = event->at("id").get<std::uint64_t>();
            }
            if (!use(*event)) {
                return true;
            }
        }
        std::array<char, 65536> more{};
        const std::size_t got = socket.read_some(asio::buffer(more), error);
        text.append(more.data(), got);
    }
    return false;
}

bool answers(const DaemonClient& client) {
    return client.ask("GET", "/v1/health").has_value();
}

std::optional<std::string> runs_of_daemon(const DaemonClient& client) {
    const auto status = client.ask_json("GET", "/v1/status");
    if (!status || !status->contains("runs") || !status->at("runs").is_string()) {
        return std::nullopt;
    }
    return status->at("runs").get<std::string>();
}

std::string percent_encoded(std::string_view text) {
    std::string out;
    for (const char letter : text) {
        const bool plain = (letter >= 'a' && letter <= 'z') || (letter >= 'A' && letter <= 'Z') ||
                           (letter >= '0' && letter <= '9') || letter == '-' || letter == '_' ||
                           letter == '.';
        if (plain) {
            out += letter;
        } else {
            out += fmt::format("%{:02X}", static_cast<unsigned char>(letter));
        }
    }
    return out;
}

}  // namespace afterload::runner
