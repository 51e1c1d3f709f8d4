/// A daemon's no, shown like a no of the command line itself.
#pragma once

#include "runner/client/daemon_client.hpp"
#include "runner/options.hpp"

namespace afterload::runner {

/// Prints why, with all mistakes of files where there are any; gives the exit status.
int refuse(const OutputOptions& output, const ClientFailure& failure);

}  // namespace afterload::runner
