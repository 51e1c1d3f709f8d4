/// The daemon's settings file (`afterload: daemon/1`) as it stands in memory.
#pragma once

#include <optional>
#include <string>

namespace afterload::sequences {

/// A value and the line it stands on.
template <class T>
struct Setting {
    T value{};
    int line = 0;
};

struct DaemonFile {
    std::string path;
    std::optional<Setting<std::string>> bench;   ///< the bench file
    std::optional<Setting<std::string>> runs;    ///< folder of the runs
    std::optional<Setting<std::string>> state;   ///< folder of queue and events
    std::optional<Setting<std::string>> socket;  ///< of the Unix domain
    std::optional<Setting<std::string>> log;     ///< journal, stderr, or a file
    std::optional<Setting<int>> queue_limit;
    std::optional<Setting<std::string>> tcp_address;  ///< 127.0.0.1 where only the port is given
    std::optional<Setting<int>> tcp_port;
    std::optional<Setting<std::string>> tcp_token_file;
};

}  // namespace afterload::sequences
