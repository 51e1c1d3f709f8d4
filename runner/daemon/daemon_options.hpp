/// The command line of afterloadd in memory.
#pragma once

#include "runner/daemon/daemon_settings.hpp"

#include <string>

namespace afterload::runner {

struct DaemonOptions {
    DaemonFlags flags;
    bool print_settings = false;  ///< print every setting with its origin, and serve nothing
    std::string text;             ///< help, the version, or what is wrong: print it and leave
    int exit_status = 0;          ///< with this
};

[[nodiscard]] DaemonOptions read_daemon_options(int count, const char* const* words);

}  // namespace afterload::runner
