/// The daemon's settings, each with where it came from: a flag, the environment, the settings file,
/// or what stands for it by itself.
#pragma once

#include "sequences/diagnostic.hpp"

#include <map>
#include <optional>
#include <string>
#include <variant>

namespace afterload::runner {

/// A value and its origin: "flag --bench", "environment AFTERLOAD_BENCH", "FILE:3", "default".
template <class T>
struct Origined {
    T value{};
    std::string origin = "default";
};

struct DaemonSettings {
    std::string file;  ///< the settings file that was read; empty: none
    Origined<std::string> bench;
    Origined<std::string> runs;
    Origined<std::string> state;
    Origined<std::string> socket;
    Origined<std::string> log;
    Origined<int> queue_limit{500, "default"};
    Origined<std::string> tcp_address{"127.0.0.1", "default"};
    Origined<int> tcp_port;  ///< 0: no door over TCP
    Origined<std::string> tcp_token_file;
};

/// The words of the command line of afterloadd, by the names of the settings, and --config.
using DaemonFlags = std::map<std::string, std::string>;
/// Variables of the environment, by name.
using Environment = std::map<std::string, std::string>;

/// Puts the settings together: flags before the environment, that before the file, that before what
/// stands for them by itself (XDG Base Directory 0.8 for a user, what systemd names for a service).
///
/// Fails   with the mistakes of the file, or in one line: the file that was named is not there, a
///         number in the environment is none, a TCP door beyond loopback without a token.
[[nodiscard]] std::variant<DaemonSettings, sequences::Diagnostics, std::string> daemon_settings(
    const DaemonFlags& flags, const Environment& environment);

/// Every setting, a line each, its origin behind it: as a settings file that says the same.
[[nodiscard]] std::string text(const DaemonSettings& settings);

/// The environment of this process.
[[nodiscard]] Environment process_environment();

}  // namespace afterload::runner
