#include "runner/daemon/daemon_settings.hpp"

#include "instruments/guard/runtime_folder.hpp"
#include "runner/input_file.hpp"
#include "sequences/daemon_reader.hpp"

#include <fmt/format.h>

#include <charconv>
#include <filesystem>
#include <functional>
#include <tuple>
#include <unistd.h>
#include <utility>

// NOLINTNEXTLINE(readability-redundant-declaration,*-non-const-global-variables): POSIX's own
extern char** environ;

namespace afterload::runner {
namespace {

std::string variable(const Environment& environment, const std::string& name) {
    const auto found = environment.find(name);
    return found == environment.end() ? std::string{} : found->second;
}

/// $NAME/below where that is set, else $HOME/otherwise.
std::string user_folder(const Environment& environment, const std::string& name,
                        const std::string& otherwise, const std::string& below) {
    const std::string folder = variable(environment, name);
    const std::string home = variable(environment, "HOME");
    return (folder.empty() ? (home.empty() ? "." : home + "/" + otherwise) : folder) + "/" + below;
}

/// The first of what flags and environment say of `name`.
std::optional<Origined<std::string>> said(const std::string& name, const DaemonFlags& flags,
                                          const Environment& environment) {
    if (const auto flag = flags.find(name); flag != flags.end()) {
        return Origined<std::string>{flag->second, "flag --" + name};
    }
    std::string upper = "AFTERLOAD_";
    for (const char letter : name) {
        upper += letter == '-' ? '_' : static_cast<char>(letter & ~0x20);
    }
    if (const auto value = environment.find(upper); value != environment.end()) {
        return Origined<std::string>{value->second, "environment " + upper};
    }
    return std::nullopt;
}

bool is_loopback(const std::string& address) {
    return address.starts_with("127.") || address == "::1" || address == "localhost";
}

void take_file(const sequences::DaemonFile& file, DaemonSettings& settings) {
    const auto take = [&](const auto& from, auto& to) {
        if (from) {
            to = {from->value, fmt::format("{}:{}", file.path, from->line)};
        }
    };
    // A path in the file is meant from where the file lies.
    const auto take_path = [&](const auto& from, Origined<std::string>& to) {
        take(from, to);
        if (from && !to.value.empty() && to.value.front() != '/') {
            to.value = (std::filesystem::path{file.path}.parent_path() / to.value).string();
        }
    };
    take_path(file.bench, settings.bench);
    take_path(file.runs, settings.runs);
    take_path(file.state, settings.state);
    take_path(file.socket, settings.socket);
    take_path(file.tcp_token_file, settings.tcp_token_file);
    take(file.log, settings.log);
    take(file.queue_limit, settings.queue_limit);
    take(file.tcp_address, settings.tcp_address);
    take(file.tcp_port, settings.tcp_port);
}

DaemonSettings by_itself(const Environment& environment) {
    DaemonSettings settings;
    const std::string state = variable(environment, "STATE_DIRECTORY");
    settings.state = state.empty()
                         ? Origined<std::string>{user_folder(environment, "XDG_STATE_HOME",
                                                             ".local/state", "afterload"),
                                                 "default"}
                         : Origined<std::string>{state, "environment STATE_DIRECTORY"};
    const std::string runtime = variable(environment, "RUNTIME_DIRECTORY");
    settings.socket =
        runtime.empty()
            ? Origined<std::string>{instruments::runtime_folder() + "/afterload.sock", "default"}
            : Origined<std::string>{runtime + "/afterload.sock", "environment RUNTIME_DIRECTORY"};
    settings.log.value = variable(environment, "JOURNAL_STREAM").empty() ? "stderr" : "journal";
    return settings;
}

}  // namespace

Environment process_environment() {
    Environment environment;
    for (char** one = environ; one != nullptr && *one != nullptr; ++one) {
        const std::string line{*one};
        if (const auto equals = line.find('='); equals != std::string::npos) {
            environment[line.substr(0, equals)] = line.substr(equals + 1);
        }
    }
    return environment;
}

std::variant<DaemonSettings, sequences::Diagnostics, std::string> daemon_settings(
    const DaemonFlags& flags, const Environment& environment) {
    DaemonSettings settings = by_itself(environment);
    std::string path = said("config", flags, environment).value_or(Origined<std::string>{}).value;
    const bool named = !path.empty();
    if (!named) {
        path = user_folder(environment, "XDG_CONFIG_HOME", ".config", "afterload/daemon.yaml");
        if (!std::filesystem::exists(path)) {
            path = "/etc/afterload/daemon.yaml";
        }
    }
    if (named || std::filesystem::exists(path)) {
        const auto text = read_input(path);
        if (!text) {
            return text.error();
        }
        auto file = sequences::read_daemon(*text, path);
        if (!file) {
            return std::move(file.error());
        }
        settings.file = path;
        take_file(*file, settings);
    }
    const std::pair<const char*, Origined<std::string>*> texts[]{
        {"bench", &settings.bench},
        {"runs", &settings.runs},
        {"state", &settings.state},
        {"socket", &settings.socket},
        {"log", &settings.log},
        {"tcp-address", &settings.tcp_address},
        {"tcp-token-file", &settings.tcp_token_file}};
    for (const auto& [name, setting] : texts) {
        if (auto value = said(name, flags, environment)) {
            *setting = *std::move(value);
        }
    }
    const std::tuple<const char*, Origined<int>*, int> numbers[]{
        {"queue-limit", &settings.queue_limit, 100000}, {"tcp-port", &settings.tcp_port, 65535}};
    for (const auto& [name, setting, most] : numbers) {
        const auto value = said(name, flags, environment);
        if (!value) {
            continue;
        }
        int number = 0;
        const char* const end = value->value.data() + value->value.size();
        const auto read = std::from_chars(value->value.data(), end, number);
        if (read.ec != std::errc{} || read.ptr != end || number < 1 || number > most) {
            return fmt::format("{}: “{}” is no whole number from 1 to {}", value->origin,
                               sequences::escaped(value->value), most);
        }
        *setting = {number, value->origin};
    }
    if (settings.runs.value.empty()) {
        settings.runs = {settings.state.value + "/runs", "default"};
    }
    // Who asks may stand in another folder.
    for (Origined<std::string>* const folder : {&settings.runs, &settings.state}) {
        folder->value = std::filesystem::absolute(folder->value).lexically_normal().string();
    }
    if (settings.tcp_port.value > 0 && !is_loopback(settings.tcp_address.value) &&
        settings.tcp_token_file.value.empty()) {
        return fmt::format(
            "{} ({}): a door over TCP beyond this machine needs a token: name a token_file",
            settings.tcp_address.value, settings.tcp_address.origin);
    }
    return settings;
}

std::string text(const DaemonSettings& settings) {
    std::string out = "afterload: daemon/1\n";
    const auto line = [&](const char* key, const auto& setting) {
        const std::string value = fmt::format("{}", setting.value);
        out += fmt::format("{}{}: {}   # {}\n", value.empty() || value == "0" ? "# " : "", key,
                           value.empty() || value == "0" ? "not set" : value, setting.origin);
    };
    line("bench", settings.bench);
    line("runs", settings.runs);
    line("state", settings.state);
    line("socket", settings.socket);
    line("log", settings.log);
    line("queue_limit", settings.queue_limit);
    const std::string guardian = instruments::guardian_service();
    out += guardian.empty()
               ? "# guardian: started by afterloadd itself   # default\n"
               : fmt::format("# guardian: {}   # environment AFTERLOAD_GUARDIAN\n", guardian);
    if (settings.tcp_port.value > 0) {
        out += "tcp:\n";
        line("  address", settings.tcp_address);
        line("  port", settings.tcp_port);
        line("  token_file", settings.tcp_token_file);
    } else {
        out += "# tcp: not set   # default\n";
    }
    return out;
}

}  // namespace afterload::runner
