#include "runner/stop_signal.hpp"

#include <csignal>

namespace afterload::runner {
namespace {

// A signal handler can reach nothing but a global.
// NOLINTNEXTLINE(cppcoreguidelines-avoid-non-const-global-variables)
std::atomic<bool> told_to_stop{false};

void stop_on_signal(int /*signal*/) {
    told_to_stop.store(true);
}

}  // namespace

const std::atomic<bool>& stop_on_signals() {
    std::signal(SIGINT, stop_on_signal);
    std::signal(SIGTERM, stop_on_signal);
    std::signal(SIGHUP, stop_on_signal);
    return told_to_stop;
}

}  // namespace afterload::runner
