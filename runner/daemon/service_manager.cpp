#include "runner/daemon/service_manager.hpp"

#include <fmt/format.h>

#include <cstdint>
#include <ctime>
#include <systemd/sd-daemon.h>

namespace afterload::runner {
namespace {

void tell(const std::string& state) {
    sd_notify(0, state.c_str());
}

std::string one_line(std::string text) {
    for (char& letter : text) {
        letter = letter == '\n' ? ' ' : letter;
    }
    return text;
}

}  // namespace

void tell_ready(const std::string& status) {
    tell("READY=1\nSTATUS=" + one_line(status));
}
void tell_reloading() {
    timespec now{};
    clock_gettime(CLOCK_MONOTONIC, &now);
    tell(fmt::format("RELOADING=1\nMONOTONIC_USEC={}",
                     std::int64_t{now.tv_sec} * 1000000 + now.tv_nsec / 1000));
}
void tell_stopping() {
    tell("STOPPING=1");
}
void tell_status(const std::string& status) {
    tell("STATUS=" + one_line(status));
}
void tell_alive() {
    tell("WATCHDOG=1");
}

std::optional<Seconds> watchdog_patience() {
    std::uint64_t microseconds = 0;
    if (sd_watchdog_enabled(0, &microseconds) <= 0) {
        return std::nullopt;
    }
    return Seconds{static_cast<double>(microseconds) * 1e-6};
}

}  // namespace afterload::runner
