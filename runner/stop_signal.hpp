/// A signal that tells the program to end, as a flag that work looks at.
#pragma once

#include <atomic>

namespace afterload::runner {

/// From now on SIGINT, SIGTERM and SIGHUP set the flag, and nothing else.
[[nodiscard]] const std::atomic<bool>& stop_on_signals();

}  // namespace afterload::runner
