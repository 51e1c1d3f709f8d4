/// The daemon's door: HTTP/1.1 over a Unix-domain socket, and over TCP where that is configured.
///
/// Bounded in every direction: connections, header, body, and the time for each; a client that does
/// not keep to them is cut off, and the run never waits for one.
#pragma once

#include "runner/daemon/event_log.hpp"
#include "runner/daemon/run_desk.hpp"

#include <tl/expected.hpp>

#include <memory>
#include <string>

namespace boost::asio {
class io_context;
}

namespace afterload::runner {

struct ServerSettings {
    std::string socket;       ///< path; made with mode 0660
    std::string tcp_address;  ///< an IP address; used where tcp_port is not 0
    int tcp_port = 0;
    std::string token;  ///< clients over TCP must show it; empty: none is asked for
};

class HttpServer {
public:
    /// Begins to listen; what comes is served once `context` runs. A socket file that nobody
    /// listens to any more is replaced. Fails, in one line, where a door cannot be opened.
    [[nodiscard]] static tl::expected<std::unique_ptr<HttpServer>, std::string> open(
        boost::asio::io_context& context, const ServerSettings& settings, RunDesk& desk,
        const EventLog& events);
    ~HttpServer();
    HttpServer(const HttpServer&) = delete;
    HttpServer& operator=(const HttpServer&) = delete;

    /// Closes the doors; who is being served is let go.
    void close();

private:
    class Work;
    explicit HttpServer(std::shared_ptr<Work> work);
    std::shared_ptr<Work> work_;
};

}  // namespace afterload::runner
