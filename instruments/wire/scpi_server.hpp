/// An instrument's end of a TCP connection: lines in, answers out, one client at a time.
#pragma once

#include "instruments/async.hpp"

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>

namespace afterload::instruments {

/// Listens on this machine alone. The next client is let in when the one before has gone; a line
/// that goes on for more than longest_line characters ends the connection.
class ScpiServer {
public:
    using Answer = std::function<std::optional<std::string>(std::string_view line)>;

    /// `port` 0: any that is free. Throws std::system_error where the port is taken.
    ScpiServer(std::uint16_t port, Answer answer);
    ~ScpiServer();
    ScpiServer(const ScpiServer&) = delete;
    ScpiServer& operator=(const ScpiServer&) = delete;

    [[nodiscard]] std::uint16_t port() const { return port_; }
    /// Serves clients until its executor is stopped.
    [[nodiscard]] Task<void> serve();

private:
    Answer answer_;
    int listening_;  ///< the descriptor; -1 once it is served
    std::uint16_t port_;
};

}  // namespace afterload::instruments
