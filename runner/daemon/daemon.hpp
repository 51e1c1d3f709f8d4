/// The daemon from its settings to its end.
#pragma once

#include "runner/daemon/daemon_settings.hpp"

namespace afterload::runner {

/// Serves until a SIGTERM or SIGINT: then takes nothing more in, ends the capture that goes on,
/// makes the bench safe, marks the run, and returns an exit status. A second such signal ends the
/// process at once; what is on a wire is then turned off by the guardian, and a sound card falls
/// silent by itself. SIGHUP reads the settings again: bench and queue limit of the runs that begin
/// from then on; the rest needs a new start, and the log says so.
[[nodiscard]] int serve_bench(const DaemonSettings& settings, const DaemonFlags& flags);

}  // namespace afterload::runner
