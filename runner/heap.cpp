#include "runner/heap.hpp"

#include <malloc.h>

namespace afterload::runner {

void keep_freed_memory() {
    constexpr int most = 64 << 20;
    // NOLINTBEGIN(concurrency-mt-unsafe): before any thread
    mallopt(M_TRIM_THRESHOLD, most);
    mallopt(M_MMAP_THRESHOLD, most / 2);
    // NOLINTEND(concurrency-mt-unsafe)
}

}  // namespace afterload::runner
