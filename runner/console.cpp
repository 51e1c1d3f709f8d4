#include "runner/console.hpp"

#include "runner/papers/json_text.hpp"

#include <cstdio>
#include <cstdlib>
#include <string>
#include <sys/ioctl.h>
#include <unistd.h>

namespace afterload::runner {
namespace {

std::string environment(const char* name) {
    const char* value = std::getenv(name);  // NOLINT(concurrency-mt-unsafe): before any thread
    return value == nullptr ? "" : value;
}

Terminal terminal_of(int descriptor, const OutputOptions& options) {
    Terminal terminal;
    const bool is_terminal = ::isatty(descriptor) == 1;
    if (is_terminal) {
        winsize size{};
        if (::ioctl(descriptor, TIOCGWINSZ, &size) == 0 && size.ws_col > 0) {
            terminal.width = size.ws_col;
        }
    }
    const bool wanted = options.colour == "always" ||
                        (options.colour == "auto" && is_terminal &&
                         environment("NO_COLOR").empty() && environment("TERM") != "dumb");
    terminal.styled = wanted && options.colour != "never";
    const std::string locale = !environment("LC_ALL").empty()     ? environment("LC_ALL")
                               : !environment("LC_CTYPE").empty() ? environment("LC_CTYPE")
                                                                  : environment("LANG");
    // A pipe or a bare service has no locale; what reads it reads UTF-8.
    terminal.utf8 = locale.empty() || locale.find("UTF-8") != std::string::npos ||
                    locale.find("utf8") != std::string::npos;
    return terminal;
}

}  // namespace

Terminal output_terminal(const OutputOptions& options) {
    return terminal_of(STDOUT_FILENO, options);
}

Terminal error_terminal(const OutputOptions& options) {
    return terminal_of(STDERR_FILENO, options);
}

void print(std::string_view text) {
    std::fwrite(text.data(), 1, text.size(), stdout);
    std::fflush(stdout);
}

void print_error(std::string_view text) {
    std::fwrite(text.data(), 1, text.size(), stderr);
}

int refuse(const OutputOptions& options, const std::string& what, int exit_status) {
    if (options.json) {
        Json document;
        document["schema"] = "afterload/refusal/1";
        document["error"] = what;
        document["exit_status"] = exit_status;
        print(json_line(document) + "\n");
    } else {
        print_error(what + "\n");
    }
    return exit_status;
}

}  // namespace afterload::runner
