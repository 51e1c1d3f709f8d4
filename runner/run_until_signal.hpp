/// Runs one coroutine that has no end until the process is told to stop.
#pragma once

#include "instruments/async.hpp"

namespace afterload::runner {

/// Until SIGINT or SIGTERM. An exception that leaves the coroutine leaves this function.
void run_until_signal(instruments::Task<void> task);

}  // namespace afterload::runner
