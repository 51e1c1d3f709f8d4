/// How the heap of the process treats the buffers of captures.
#pragma once

namespace afterload::runner {

/// Keeps up to 64 MiB of freed memory instead of handing every large buffer back to the kernel and
/// having it cleared again for the next capture: a fifth of the time of a short analysis.
void keep_freed_memory();

}  // namespace afterload::runner
