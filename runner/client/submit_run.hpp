/// `run` without --bench: the run is handed to the daemon, and followed to its end.
#pragma once

#include "runner/options.hpp"

namespace afterload::runner {

[[nodiscard]] int submit_run(const RunOptions& command, const OutputOptions& output);

}  // namespace afterload::runner
