// A time of day that a test moves: preloaded into a program, it adds to the wall clock the seconds
// that stand, as a 64-bit integer, at the beginning of the file AFTERLOAD_WALL_CLOCK names. The
// monotonic clock stays as it is.
#include <atomic>
#include <cstdint>
#include <cstdlib>
#include <dlfcn.h>
#include <fcntl.h>
#include <sys/mman.h>
#include <time.h>
#include <unistd.h>

namespace {

std::int64_t moved_by() {
    static const std::atomic<std::int64_t>* const seconds = [] {
        static const std::atomic<std::int64_t> none{0};
        const char* const path = std::getenv("AFTERLOAD_WALL_CLOCK");
        const int file = path != nullptr ? open(path, O_RDONLY) : -1;
        if (file < 0) {
            return &none;
        }
        void* const at = mmap(nullptr, sizeof none, PROT_READ, MAP_SHARED, file, 0);
        close(file);
        return at == MAP_FAILED ? &none : static_cast<const std::atomic<std::int64_t>*>(at);
    }();
    return seconds->load();
}

}  // namespace

extern "C" int clock_gettime(clockid_t clock, timespec* time) {
    static auto* const real =
        reinterpret_cast<int (*)(clockid_t, timespec*)>(dlsym(RTLD_NEXT, "clock_gettime"));
    const int result = real(clock, time);
    if (result == 0 && clock == CLOCK_REALTIME) {
        time->tv_sec += moved_by();
    }
    return result;
}
