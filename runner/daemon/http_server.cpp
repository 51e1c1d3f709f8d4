#include "runner/daemon/http_server.hpp"

#include "instruments/async.hpp"
#include "runner/daemon/api.hpp"
#include "runner/daemon/submission.hpp"
#include "runner/log.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/thread_pool.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/version.hpp>
#include <fmt/format.h>

#include <atomic>
#include <charconv>
#include <chrono>
#include <exception>
#include <filesystem>
#include <sys/stat.h>
#include <utility>

namespace afterload::runner {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using asio::ip::tcp;
using asio::local::stream_protocol;
using boost::system::error_code;

constexpr int most_connections = 512;
constexpr std::size_t most_events = 200;  // written at once
constexpr std::uint32_t longest_header = 16 * 1024;
constexpr std::uint64_t usual_body = std::uint64_t{6} << 20U;  // four files of 1 MiB, escaped
// With a sound file, in base64. One at a time is taken in.
constexpr std::uint64_t longest_body = usual_body + longest_sound / 3 * 4 + 4;
constexpr std::chrono::seconds for_a_long_request{60};
constexpr std::chrono::seconds for_a_request{15};
constexpr std::chrono::seconds for_an_answer{15};
constexpr std::chrono::milliseconds between_looks{50};
constexpr std::chrono::seconds between_comments{15};

using Request = http::request<http::string_body>;
using Response = http::response<http::string_body>;

std::string text_of(beast::string_view view) {
    return {view.data(), view.size()};
}

constexpr const char* too_long = "the body is over 6 MiB; with a sound file, over 27 MiB";

/// The one place for a request that is longer than usual, held until it is answered.
class LongRequest {
public:
    explicit LongRequest(std::atomic<bool>& taken) : taken_{taken} {}
    LongRequest(const LongRequest&) = delete;
    LongRequest& operator=(const LongRequest&) = delete;
    ~LongRequest() {
        if (held_) {
            taken_.store(false);
        }
    }
    [[nodiscard]] bool take() {
        held_ = held_ || !taken_.exchange(true);
        return held_;
    }
    [[nodiscard]] bool held() const { return held_; }

private:
    std::atomic<bool>& taken_;
    bool held_ = false;
};

Response response_of(const ApiResponse& answer, unsigned version, bool keep_alive) {
    Response response{static_cast<http::status>(answer.status), version};
    response.set(http::field::content_type, answer.type);
    response.set(http::field::cache_control, "no-store");
    response.set("X-Content-Type-Options", "nosniff");
    response.keep_alive(keep_alive);
    response.body() = answer.body;
    response.prepare_payload();
    return response;
}

/// Equal, in a time that does not tell where they differ.
bool same_secret(std::string_view shown, std::string_view secret) {
    unsigned char difference = shown.size() == secret.size() ? 0 : 1;
    for (std::size_t n = 0; n < shown.size() && !secret.empty(); ++n) {
        difference |= static_cast<unsigned char>(shown[n] ^ secret[n % secret.size()]);
    }
    return difference == 0;
}

/// The part of Host before the port.
std::string_view host_name(std::string_view host) {
    if (host.starts_with('[')) {
        return host.substr(0, host.find(']') + 1);
    }
    return host.substr(0, host.find(':'));
}

}  // namespace

class HttpServer::Work : public std::enable_shared_from_this<HttpServer::Work> {
public:
    Work(asio::io_context& context, ServerSettings settings, RunDesk& desk, const EventLog& events)
        : context_{context}, settings_{std::move(settings)}, desk_{desk}, events_{events} {}

    tl::expected<void, std::string> listen() {
        if (auto opened = listen_locally(); !opened) {
            return opened;
        }
        if (settings_.tcp_port == 0) {
            return {};
        }
        error_code error;
        const auto address = asio::ip::make_address(settings_.tcp_address, error);
        if (error) {
            return tl::unexpected(settings_.tcp_address + ": is no IP address");
        }
        const tcp::endpoint endpoint{address, static_cast<std::uint16_t>(settings_.tcp_port)};
        tcp_.emplace(context_);
        tcp_->open(endpoint.protocol(), error);
        if (!error) {
            tcp_->set_option(tcp::acceptor::reuse_address{true}, error);
        }
        if (!error) {
            tcp_->bind(endpoint, error);
        }
        if (!error) {
            tcp_->listen(asio::socket_base::max_listen_connections, error);
        }
        if (error) {
            return tl::unexpected(fmt::format("{} port {}: {}", settings_.tcp_address,
                                              settings_.tcp_port, error.message()));
        }
        return {};
    }

    void serve() {
        asio::co_spawn(context_, accept<stream_protocol>(shared_from_this(), *local_, false),
                       asio::detached);
        if (tcp_) {
            asio::co_spawn(context_, accept<tcp>(shared_from_this(), *tcp_, true), asio::detached);
        }
    }

    void close() {
        closing_ = true;
        error_code error;
        if (local_) {
            local_->close(error);
            std::error_code ignored;
            std::filesystem::remove(settings_.socket, ignored);
        }
        if (tcp_) {
            tcp_->close(error);
        }
    }

    void join() { pool_.join(); }

private:
    tl::expected<void, std::string> listen_locally() {
        error_code error;
        if (settings_.socket.size() > 100) {
            return tl::unexpected(settings_.socket +
                                  ": a socket's path has at most 100 characters; name another with "
                                  "socket:");
        }
        const stream_protocol::endpoint endpoint{settings_.socket};
        std::error_code made;
        std::filesystem::create_directories(std::filesystem::path{settings_.socket}.parent_path(),
                                            made);
        if (std::filesystem::exists(settings_.socket, made)) {
            stream_protocol::socket probe{context_};
            probe.connect(endpoint, error);
            if (!error) {
                return tl::unexpected(settings_.socket + ": another afterloadd serves it");
            }
            if (!std::filesystem::is_socket(settings_.socket, made)) {
                return tl::unexpected(settings_.socket + ": is a file that is no socket");
            }
            std::filesystem::remove(settings_.socket, made);
        }
        local_.emplace(context_);
        // No moment in which others could connect: the mode is there from the beginning.
        const mode_t before = umask(0117);
        local_->open(endpoint.protocol(), error);
        if (!error) {
            local_->bind(endpoint, error);
        }
        umask(before);
        if (!error) {
            local_->listen(asio::socket_base::max_listen_connections, error);
        }
        if (error) {
            return tl::unexpected(settings_.socket + ": " + error.message());
        }
        return {};
    }

    template <class Protocol>
    static asio::awaitable<void> accept(std::shared_ptr<Work> self,
                                        typename Protocol::acceptor& door, bool over_tcp) {
        while (!self->closing_) {
            typename Protocol::socket socket{self->context_};
            error_code error;
            co_await door.async_accept(socket, asio::redirect_error(asio::use_awaitable, error));
            if (error == asio::error::operation_aborted || self->closing_) {
                co_return;
            }
            if (error) {
                // Out of descriptors, most likely: others will go.
                asio::steady_timer timer{self->context_, std::chrono::milliseconds{100}};
                co_await timer.async_wait(asio::redirect_error(asio::use_awaitable, error));
                continue;
            }
            using Stream = beast::basic_stream<Protocol>;
            auto stream = std::make_shared<Stream>(std::move(socket));
            auto session = serve_one<Stream>(self, std::move(stream), over_tcp);
            asio::co_spawn(self->context_, std::move(session), asio::detached);
        }
    }

    template <class Stream>
    static asio::awaitable<void> serve_one(std::shared_ptr<Work> self,
                                           std::shared_ptr<Stream> stream, bool over_tcp) {
        struct Count {
            std::atomic<int>& of;
            explicit Count(std::atomic<int>& which) : of{which} { ++of; }
            Count(const Count&) = delete;
            Count& operator=(const Count&) = delete;
            ~Count() { --of; }
        };
        const Count counted{self->connections_};
        beast::flat_buffer buffer{longest_header + 65536};
        bool more = true;
        while (more) {
            http::request_parser<http::string_body> parser;
            parser.header_limit(longest_header);
            parser.body_limit(longest_body);
            stream->expires_after(for_a_request);
            error_code error;
            LongRequest place{self->a_long_request_};
            if (self->connections_.load() > most_connections) {
                const ApiResponse full = problem(503, "too many connections; come again");
                co_await write(*stream, full, 11, false);
                break;
            }
            co_await http::async_read_header(*stream, buffer, parser,
                                             asio::redirect_error(asio::use_awaitable, error));
            if (!error) {
                const auto refused = self->refusal_by_length(parser, over_tcp, place);
                if (refused) {
                    co_await write(*stream, *refused, 11, false);
                    break;
                }
                if (place.held()) {
                    stream->expires_after(for_a_long_request);
                }
                co_await http::async_read(*stream, buffer, parser,
                                          asio::redirect_error(asio::use_awaitable, error));
            }
            if (error == http::error::body_limit) {
                const ApiResponse large = problem(413, too_long);
                co_await write(*stream, large, 11, false);
                break;
            }
            if (error == http::error::header_limit || error == http::error::buffer_overflow) {
                const ApiResponse large = problem(431, "the header is over 16 KiB");
                co_await write(*stream, large, 11, false);
                break;
            }
            if (error) {
                const bool spoke =
                    error.category() == make_error_code(http::error::bad_method).category() &&
                    error != http::error::end_of_stream && error != http::error::partial_message;
                if (spoke) {
                    const ApiResponse garbled = problem(400, "this is no HTTP: " + error.message());
                    co_await write(*stream, garbled, 11, false);
                }
                break;
            }
            const Request request = parser.release();
            more = request.keep_alive();
            const auto refused = self->refusal(request, over_tcp);
            if (refused) {
                co_await write(*stream, *refused, request.version(), false);
                break;
            }
            if (self->asks_for_events(request)) {
                co_await follow<Stream>(self, stream, request);
                break;
            }
            const ApiRequest asked{text_of(request.method_string()), text_of(request.target()),
                                   request.body()};
            auto work = answer(self, asked);
            const ApiResponse answered =
                co_await asio::co_spawn(self->pool_, std::move(work), asio::use_awaitable);
            const bool written = co_await write(*stream, answered, request.version(), more);
            more = more && written;
        }
        error_code ignored;
        stream->socket().shutdown(asio::socket_base::shutdown_send, ignored);
        stream->close();
    }

    /// On the pool: it may wait for the disk.
    static asio::awaitable<ApiResponse> answer(std::shared_ptr<Work> self, ApiRequest asked) {
        try {
            ApiResponse response = answer_api(asked, self->desk_);
            co_return response;
        } catch (const std::exception& error) {
            log_error(fmt::format("{} {}: {}", asked.method, asked.target, error.what()));
        }
        ApiResponse failed = problem(500, "the program itself failed; its log says how");
        co_return failed;
    }

    template <class Stream>
    static asio::awaitable<bool> write(Stream& stream, const ApiResponse& answer, unsigned version,
                                       bool keep_alive) {
        Response response = response_of(answer, version, keep_alive);
        stream.expires_after(for_an_answer);
        error_code error;
        http::response_serializer<http::string_body> serializer{response};
        co_await http::async_write(stream, serializer,
                                   asio::redirect_error(asio::use_awaitable, error));
        co_return !error;
    }

    /// A body that is longer than usual is a submission with a sound file, and is held in memory:
    /// one at a time, of a client that may ask at all.
    std::optional<ApiResponse> refusal_by_length(http::request_parser<http::string_body>& parser,
                                                 bool over_tcp, LongRequest& place) const {
        if (!parser.content_length() || *parser.content_length() <= usual_body) {
            parser.body_limit(usual_body);
            return std::nullopt;
        }
        if (auto refused = refusal(parser.get(), over_tcp)) {
            return refused;
        }
        if (parser.get().target() != "/v1/queue") {
            return problem(413, too_long);
        }
        if (!place.take()) {
            return problem(503, "another run with a long file is being taken in; come again");
        }
        return std::nullopt;
    }

    std::optional<ApiResponse> refusal(const Request& request, bool over_tcp) const {
        if (request.count(http::field::host) > 1) {
            return problem(400, "more than one Host");
        }
        const bool changes =
            request.method() != http::verb::get && request.method() != http::verb::head;
        if (!over_tcp) {
            return std::nullopt;
        }
        if (!settings_.token.empty()) {
            const std::string shown = text_of(request[http::field::authorization]);
            constexpr std::string_view bearer = "Bearer ";
            if (!shown.starts_with(bearer) ||
                !same_secret(std::string_view{shown}.substr(bearer.size()), settings_.token)) {
                return problem(401, "a bearer token is due: Authorization: Bearer …");
            }
        } else {
            // A page in a browser of this machine could be made to ask: it cannot fake these.
            const std::string host = text_of(request[http::field::host]);
            const std::string_view name = host_name(host);
            if (name != "localhost" && name != "127.0.0.1" && name != "[::1]") {
                return problem(403, "this door is for localhost alone");
            }
        }
        const std::string type = text_of(request[http::field::content_type]);
        if (changes && !type.starts_with("application/json")) {
            return problem(415, "Content-Type: application/json is due");
        }
        return std::nullopt;
    }

    static bool asks_for_events(const Request& request) {
        const auto target = api_target(text_of(request.target()));
        return request.method() == http::verb::get && target && target->segments.size() == 2 &&
               target->segments[0] == "v1" && target->segments[1] == "events";
    }

    /// Writes events until the client goes. What it has not read yet waits in the log and costs
    /// nothing here.
    template <class Stream>
    static asio::awaitable<void> follow(std::shared_ptr<Work> self, std::shared_ptr<Stream> stream,
                                        const Request& request) {
        const bool lines =
            request[http::field::accept].find("application/x-ndjson") != beast::string_view::npos;
        const std::string last = text_of(request["Last-Event-ID"]);
        std::uint64_t place = self->events_.place_at_end();
        if (!last.empty()) {
            std::uint64_t id = 0;
            const auto read = std::from_chars(last.data(), last.data() + last.size(), id);
            if (read.ec != std::errc{} || read.ptr != last.data() + last.size()) {
                const ApiResponse wrong = problem(400, "Last-Event-ID: a whole number is due");
                co_await write(*stream, wrong, request.version(), false);
                co_return;
            }
            place = self->events_.place_behind(id);
        }
        std::string text = fmt::format(
            "HTTP/1.1 200 OK\r\nContent-Type: {}\r\nCache-Control: no-store\r\nConnection: "
            "close\r\n\r\n",
            lines ? "application/x-ndjson" : "text/event-stream");
        auto spoke = std::chrono::steady_clock::now();
        asio::steady_timer timer{self->context_};
        while (!self->closing_) {
            bool passed_over = false;
            for (const Event& event : self->events_.read(place, most_events, passed_over)) {
                const std::string line = json_line(event_json(event));
                if (lines) {
                    text += line + "\n";
                    continue;
                }
                if (event.id > 0) {
                    text += fmt::format("id: {}\n", event.id);
                }
                text += fmt::format("event: {}\ndata: {}\n\n", event.kind, line);
            }
            if (passed_over) {
                text += lines ? "" : ": some events are not kept any more\n\n";
            }
            const auto now = std::chrono::steady_clock::now();
            if (text.empty() && !lines && now - spoke > between_comments) {
                text = ": still here\n\n";
            }
            error_code error;
            if (!text.empty()) {
                stream->expires_after(for_an_answer);
                co_await asio::async_write(*stream, asio::buffer(text),
                                           asio::redirect_error(asio::use_awaitable, error));
                text.clear();
                spoke = now;
            } else {
                timer.expires_after(between_looks);
                co_await timer.async_wait(asio::redirect_error(asio::use_awaitable, error));
                error = gone(*stream);
            }
            if (error) {
                break;
            }
        }
    }

    /// A client that hung up is seen without writing to it.
    template <class Stream>
    static error_code gone(Stream& stream) {
        error_code error;
        char letter = 0;
        stream.socket().non_blocking(true, error);
        const std::size_t got = stream.socket().receive(asio::buffer(&letter, 1),
                                                        asio::socket_base::message_peek, error);
        if (error == asio::error::would_block || (got == 1 && !error)) {
            return {};
        }
        return error ? error : asio::error::eof;
    }

    asio::io_context& context_;
    const ServerSettings settings_;
    RunDesk& desk_;
    const EventLog& events_;
    std::optional<stream_protocol::acceptor> local_;
    std::optional<tcp::acceptor> tcp_;
    asio::thread_pool pool_{2};
    std::atomic<int> connections_{0};
    std::atomic<bool> a_long_request_{false};
    std::atomic<bool> closing_{false};
};

HttpServer::HttpServer(std::shared_ptr<Work> work) : work_{std::move(work)} {}
HttpServer::~HttpServer() {
    work_->close();
    work_->join();
}
void HttpServer::close() {
    work_->close();
}

tl::expected<std::unique_ptr<HttpServer>, std::string> HttpServer::open(
    asio::io_context& context, const ServerSettings& settings, RunDesk& desk,
    const EventLog& events) {
    auto work = std::make_shared<Work>(context, settings, desk, events);
    if (auto listening = work->listen(); !listening) {
        return tl::unexpected(std::move(listening.error()));
    }
    work->serve();
    return std::unique_ptr<HttpServer>{new HttpServer{std::move(work)}};
}

}  // namespace afterload::runner
