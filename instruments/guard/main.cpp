// The guardian's process: started by the program with one end of a socket pair as descriptor 3, or
// by a service for a program that connected (systemd hands that connection over as descriptor 3
// too: sd_listen_fds(3)).
#include "instruments/guard/guardian.hpp"
#include "instruments/guard/runtime_folder.hpp"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <fmt/format.h>

#include <csignal>
#include <cstdio>
#include <exception>
#include <fcntl.h>
#include <string>
#include <unistd.h>

namespace {

constexpr int program = 3;
constexpr int not_confirmed = 1;
constexpr int not_started = 2;

void say(const std::string& line) {
    // One write for a line, so that it stays whole between the program's own.
    const std::string whole = "guardian: " + line + "\n";
    (void)!::write(STDERR_FILENO, whole.data(), whole.size());
}

int watch() {
    using namespace afterload::instruments;
    std::signal(SIGPIPE, SIG_IGN);
    std::signal(SIGINT, SIG_IGN);
    std::signal(SIGHUP, SIG_IGN);
    GuardianSettings settings;
    settings.door = fmt::format("{}/guardian-{}.sock", runtime_folder(), ::getpid());
    settings.say = say;
    boost::asio::io_context context{1};
    Guardian guardian{program, std::move(settings)};
    boost::asio::signal_set ends{context, SIGTERM};
    ends.async_wait([&guardian](const boost::system::error_code& error, int /*signal*/) {
        if (!error) {
            guardian.end("the guardian was told to end");
        }
    });
    bool all_off = false;
    boost::asio::co_spawn(context, guardian.watch(),
                          [&](const std::exception_ptr& error, bool off) {
                              if (error) {
                                  std::rethrow_exception(error);
                              }
                              all_off = off;
                              context.stop();
                          });
    context.run();
    return all_off ? 0 : not_confirmed;
}

}  // namespace

int main() {
    if (::isatty(program) != 0 || ::fcntl(program, F_GETFD) == -1) {
        say("it is started by afterload, or by its service, when a bench has instruments on a "
            "wire");
        return not_started;
    }
    try {
        return watch();
    } catch (const std::exception& error) {
        say(error.what());
        return not_started;
    }
}
