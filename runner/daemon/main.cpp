/// The daemon `afterloadd`.
#include "runner/console.hpp"
#include "runner/daemon/daemon.hpp"
#include "runner/daemon/daemon_options.hpp"
#include "runner/exit_status.hpp"
#include "runner/heap.hpp"

#include <csignal>
#include <exception>
#include <string>
#include <variant>

namespace {

using namespace afterload::runner;

int run_daemon(const DaemonOptions& options) {
    auto settings = daemon_settings(options.flags, process_environment());
    if (const auto* why = std::get_if<std::string>(&settings)) {
        print_error("afterloadd: " + *why + "\n");
        return exit_usage;
    }
    if (const auto* mistakes = std::get_if<afterload::sequences::Diagnostics>(&settings)) {
        print_error(afterload::sequences::text(*mistakes));
        return exit_bad_input;
    }
    if (options.print_settings) {
        print(text(std::get<DaemonSettings>(settings)));
        return exit_pass;
    }
    return serve_bench(std::get<DaemonSettings>(settings), options.flags);
}

}  // namespace

int main(int count, char** words) {
    keep_freed_memory();
    std::signal(SIGPIPE, SIG_IGN);
    try {
        const DaemonOptions options = read_daemon_options(count, words);
        if (!options.text.empty()) {
            options.exit_status == 0 ? print(options.text) : print_error(options.text);
            return options.exit_status;
        }
        return run_daemon(options);
    } catch (const std::exception& error) {
        print_error(std::string{"afterloadd: the program itself failed: "} + error.what() + "\n");
        return exit_internal;
    }
}
