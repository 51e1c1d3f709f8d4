#include "runner/daemon/daemon.hpp"

#include "runner/console.hpp"
#include "runner/daemon/event_log.hpp"
#include "runner/daemon/http_server.hpp"
#include "runner/daemon/run_desk.hpp"
#include "runner/daemon/service_manager.hpp"
#include "runner/exit_status.hpp"
#include "runner/input_file.hpp"
#include "runner/log.hpp"

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <system_error>
#include <utility>

namespace afterload::runner {
namespace {

namespace asio = boost::asio;

DeskSettings desk_settings(const DaemonSettings& settings) {
    return {settings.bench.value, settings.runs.value, settings.state.value + "/queue",
            static_cast<std::size_t>(settings.queue_limit.value)};
}

int cannot(const std::string& what, int status) {
    log_error(what);
    print_error("afterloadd: " + what + "\n");
    return status;
}

/// The first line of the token's file. Fails where there is none to speak of.
tl::expected<std::string, std::string> token_of(const DaemonSettings& settings) {
    const std::string& path = settings.tcp_token_file.value;
    if (settings.tcp_port.value == 0 || path.empty()) {
        return std::string{};
    }
    const auto text = read_input(path);
    if (!text) {
        return tl::unexpected(text.error());
    }
    std::string token = text->substr(0, text->find_first_of("\r\n"));
    if (token.size() < 16) {
        return tl::unexpected(path + ": its first line is the token, 16 characters at least");
    }
    return token;
}

/// Events that whoever reads the journal should see.
class Journal {
public:
    explicit Journal(const EventLog& events) : events_{events}, place_{events.place_at_end()} {}

    void catch_up() {
        bool passed_over = false;
        for (const Event& event : events_.read(place_, 1000, passed_over)) {
            if (event.id == 0) {
                continue;
            }
            const std::string line = event.kind + " " + json_line(event.data);
            if (event.kind == "trouble" || event.kind == "run_interrupted") {
                log_warning(line);
            } else if (event.kind != "step_begins" && event.kind != "step_ended") {
                log_info(line);
            }
        }
    }

private:
    const EventLog& events_;
    std::uint64_t place_;
};

/// What goes on beside the serving: signals, the watchdog, the journal.
class Caretaker {
public:
    Caretaker(asio::io_context& context, RunDesk& desk, HttpServer& server, EventLog& events,
              DaemonSettings settings, DaemonFlags flags)
        : context_{context},
          desk_{desk},
          server_{server},
          journal_{events},
          settings_{std::move(settings)},
          flags_{std::move(flags)},
          ends_{context, SIGTERM, SIGINT},
          reloads_{context, SIGHUP},
          timer_{context} {
        const auto patience = watchdog_patience();
        every_ = std::chrono::milliseconds{
            patience ? std::clamp(static_cast<int>(300.0 * patience->in<Seconds>()), 20, 250)
                     : 250};
        wait_for_end();
        wait_for_reload();
        look_after();
    }
    Caretaker(const Caretaker&) = delete;
    Caretaker& operator=(const Caretaker&) = delete;
    ~Caretaker() = default;

private:
    void wait_for_end() {
        ends_.async_wait([this](const boost::system::error_code& error, int) {
            if (error) {
                return;
            }
            if (ending_) {
                log_warning("told to end a second time: ending at once");
                std::_Exit(exit_stopped);
            }
            ending_ = true;
            log_info("told to end: the run that goes on is stopped and made safe");
            tell_stopping();
            desk_.finish();
            wait_for_end();
        });
    }

    void wait_for_reload() {
        reloads_.async_wait([this](const boost::system::error_code& error, int) {
            if (error) {
                return;
            }
            tell_reloading();
            reload();
            tell_ready(settings_.bench.value);
            wait_for_reload();
        });
    }

    void reload() {
        auto read = daemon_settings(flags_, process_environment());
        if (const auto* why = std::get_if<std::string>(&read)) {
            log_error("the settings stay as they were: " + *why);
            return;
        }
        if (const auto* mistakes = std::get_if<sequences::Diagnostics>(&read)) {
            log_error("the settings stay as they were: " + text(*mistakes));
            return;
        }
        auto& fresh = std::get<DaemonSettings>(read);
        for (const auto& [name, now, then] :
             {std::tuple{"runs", &fresh.runs, &settings_.runs},
              std::tuple{"state", &fresh.state, &settings_.state},
              std::tuple{"socket", &fresh.socket, &settings_.socket}}) {
            if (now->value != then->value) {
                log_warning(fmt::format("{} changed to {}: that needs a new start of afterloadd",
                                        name, now->value));
            }
        }
        if (const auto logging = log_to(fresh.log.value); !logging) {
            log_error(logging.error());
        }
        settings_.bench = fresh.bench;
        settings_.queue_limit = fresh.queue_limit;
        desk_.change(desk_settings(settings_));
        log_info("settings read again; bench: " + settings_.bench.value);
    }

    void look_after() {
        timer_.expires_after(every_);
        timer_.async_wait([this](const boost::system::error_code& error) {
            if (error) {
                return;
            }
            journal_.catch_up();
            if (desk_.advances()) {
                tell_alive();
            }
            if (ending_ && desk_.over()) {
                server_.close();
                context_.stop();
                return;
            }
            look_after();
        });
    }

    asio::io_context& context_;
    RunDesk& desk_;
    HttpServer& server_;
    Journal journal_;
    DaemonSettings settings_;
    const DaemonFlags flags_;
    asio::signal_set ends_;
    asio::signal_set reloads_;
    asio::steady_timer timer_;
    std::chrono::milliseconds every_{250};
    bool ending_ = false;
};

}  // namespace

int serve_bench(const DaemonSettings& settings, const DaemonFlags& flags) {
    if (auto logging = log_to(settings.log.value); !logging) {
        return cannot(logging.error(), exit_cannot_write);
    }
    std::error_code error;
    std::filesystem::create_directories(settings.state.value, error);
    auto events = EventLog::open(settings.state.value + "/events.ndjson");
    if (!events) {
        return cannot(events.error(), exit_cannot_write);
    }
    const auto token = token_of(settings);
    if (!token) {
        return cannot(token.error(), exit_no_input);
    }
    asio::io_context context{1};
    auto desk = RunDesk::open(desk_settings(settings), **events);
    if (!desk) {
        return cannot(desk.error(), exit_cannot_write);
    }
    const ServerSettings doors{settings.socket.value, settings.tcp_address.value,
                               settings.tcp_port.value, *token};
    auto server = HttpServer::open(context, doors, **desk, **events);
    if (!server) {
        return cannot(server.error(), exit_no_device);
    }
    Caretaker caretaker{context, **desk, **server, **events, settings, flags};
    (*events)->tell("begins", Json{{"build", AFTERLOAD_BUILD}, {"bench", settings.bench.value}});
    tell_ready(settings.bench.value.empty() ? "no bench is named" : settings.bench.value);
    context.run();
    (*events)->tell("ends", Json::object());
    log_info("ended");
    return exit_pass;
}

}  // namespace afterload::runner
