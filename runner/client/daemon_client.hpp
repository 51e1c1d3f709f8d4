/// The command line's end of the daemon's door: one request at a time over its socket, and its
/// events.
#pragma once

#include "runner/papers/json_text.hpp"

#include <tl/expected.hpp>

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>

namespace afterload::runner {

/// Why there is no answer.
struct ClientFailure {
    bool nobody = false;  ///< no daemon listens there
    int status = 0;       ///< what it answered, where it did
    std::string why;      ///< one line
    Json mistakes = Json::array();
};

class DaemonClient {
public:
    /// `socket` empty: AFTERLOAD_SOCKET, else the user's own daemon, else the system's.
    explicit DaemonClient(std::string socket);

    [[nodiscard]] const std::string& socket() const { return socket_; }
    /// The body of an answer that is no problem, within `patience` seconds.
    [[nodiscard]] tl::expected<std::string, ClientFailure> ask(std::string_view method,
                                                               std::string_view target,
                                                               std::string_view body = {}) const;
    /// ask() for a JSON document.
    [[nodiscard]] tl::expected<Json, ClientFailure> ask_json(std::string_view method,
                                                             std::string_view target,
                                                             const Json& body = {}) const;
    /// Hands each event after the one with id `last` (nothing: from now on) to `use`, until that
    /// says false or the daemon is gone; `last` moves along. True: `use` said it is enough.
    [[nodiscard]] tl::expected<bool, ClientFailure> follow(
        std::optional<std::uint64_t>& last, const std::function<bool(const Json&)>& use) const;

private:
    std::string socket_;
};

/// Is there a daemon that answers?
[[nodiscard]] bool answers(const DaemonClient& client);

/// The folder that a daemon's runs lie in; nothing where none answers.
[[nodiscard]] std::optional<std::string> runs_of_daemon(const DaemonClient& client);

/// `text` fit for one segment or value of a URL.
[[nodiscard]] std::string percent_encoded(std::string_view text);

}  // namespace afterload::runner
