/// What the daemon tells the service manager that started it (sd_notify, systemd); nothing where
/// none did. The one door to libsystemd.
#pragma once

#include "analysis/quantity.hpp"

#include <optional>
#include <string>

namespace afterload::runner {

void tell_ready(const std::string& status);
void tell_reloading();
void tell_stopping();
void tell_status(const std::string& status);
/// A sign of life for the watchdog.
void tell_alive();
/// How long the watchdog waits for one; nothing where there is no watchdog.
[[nodiscard]] std::optional<Seconds> watchdog_patience();

}  // namespace afterload::runner
