// Faults of a disk, for tests: preloaded into a program, it counts everything that the program does
// to the files below one folder, and lets the n-th of those go wrong.
//
//     AFTERLOAD_FAULT_UNDER   the folder
//     AFTERLOAD_FAULT_COUNT   a file that the count is kept in, eight bytes, mapped
//     AFTERLOAD_FAULT_AT      n, from 1; 0: none
//     AFTERLOAD_FAULT_KIND    kill    the process dies before the n-th
//                             torn    half of the n-th is written, then it dies
//                             full    the n-th and all that follow fail with ENOSPC
//                             broken  the n-th and all that follow fail with EIO
//                             once    the n-th alone fails with EIO
//
// What counts: write, writev, pwrite, fsync, fdatasync, ftruncate, rename, unlink, mkdir, and an
// open that makes or empties a file.
#include <climits>

#include <atomic>
#include <cerrno>
#include <csignal>
#include <cstdarg>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <dlfcn.h>
#include <fcntl.h>
#include <string>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <unistd.h>

namespace {

template <class Function>
Function* next(const char* name) {
    return reinterpret_cast<Function*>(dlsym(RTLD_NEXT, name));
}

std::string variable(const char* name) {
    const char* const value = std::getenv(name);
    return value != nullptr ? value : "";
}

struct Plan {
    std::string under = variable("AFTERLOAD_FAULT_UNDER");
    std::string kind = variable("AFTERLOAD_FAULT_KIND");
    std::uint64_t at = std::strtoull(variable("AFTERLOAD_FAULT_AT").c_str(), nullptr, 10);
    std::atomic<std::uint64_t>* count = mapped(variable("AFTERLOAD_FAULT_COUNT"));

    static std::atomic<std::uint64_t>* mapped(const std::string& path) {
        static std::atomic<std::uint64_t> own{0};
        const int file =
            path.empty() ? -1 : next<int(const char*, int, ...)>("open")(path.c_str(), O_RDWR);
        if (file < 0) {
            return &own;
        }
        void* const at = mmap(nullptr, sizeof own, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
        next<int(int)>("close")(file);
        return at == MAP_FAILED ? &own : static_cast<std::atomic<std::uint64_t>*>(at);
    }
};
Plan& plan() {
    static Plan one;
    return one;
}

bool counts(const std::string& path) {
    const std::string& under = plan().under;
    return !under.empty() && path.compare(0, under.size(), under) == 0;
}
bool counts(int file) {
    char path[PATH_MAX];
    const std::string link = "/proc/self/fd/" + std::to_string(file);
    const ssize_t length = readlink(link.c_str(), path, sizeof path);
    return length > 0 && counts(std::string(path, static_cast<std::size_t>(length)));
}

enum class Fate { goes, half, fails };

/// What becomes of the operation that is due now.
Fate fate() {
    Plan& now = plan();
    const std::uint64_t number = now.count->fetch_add(1) + 1;
    if (now.at == 0 || number < now.at) {
        return Fate::goes;
    }
    if (now.kind == "full" || now.kind == "broken") {
        errno = now.kind == "full" ? ENOSPC : EIO;
        return Fate::fails;
    }
    if (number > now.at) {
        return Fate::goes;
    }
    if (now.kind == "once") {
        errno = EIO;
        return Fate::fails;
    }
    if (now.kind == "torn") {
        return Fate::half;
    }
    kill(getpid(), SIGKILL);
    return Fate::goes;
}

void die() {
    kill(getpid(), SIGKILL);
    pause();
}

}  // namespace

extern "C" {

ssize_t write(int file, const void* bytes, size_t size) {
    static auto* const real = next<ssize_t(int, const void*, size_t)>("write");
    if (counts(file)) {
        switch (fate()) {
            case Fate::fails:
                return -1;
            case Fate::half:
                real(file, bytes, size / 2);
                die();
                break;
            case Fate::goes:
                break;
        }
    }
    return real(file, bytes, size);
}

ssize_t writev(int file, const iovec* parts, int count) {
    static auto* const real = next<ssize_t(int, const iovec*, int)>("writev");
    if (counts(file)) {
        switch (fate()) {
            case Fate::fails:
                return -1;
            case Fate::half:
                real(file, parts, count > 1 ? count - 1 : count);
                die();
                break;
            case Fate::goes:
                break;
        }
    }
    return real(file, parts, count);
}

ssize_t pwrite(int file, const void* bytes, size_t size, off_t at) {
    static auto* const real = next<ssize_t(int, const void*, size_t, off_t)>("pwrite");
    if (counts(file)) {
        switch (fate()) {
            case Fate::fails:
                return -1;
            case Fate::half:
                real(file, bytes, size / 2, at);
                die();
                break;
            case Fate::goes:
                break;
        }
    }
    return real(file, bytes, size, at);
}
ssize_t pwrite64(int file, const void* bytes, size_t size, off_t at) {
    return pwrite(file, bytes, size, at);
}

#define AFTERLOAD_FAULTY(name, types, names, place)       \
    int name types {                                      \
        static auto* const real = next<int types>(#name); \
        if (counts(place) && fate() == Fate::fails) {     \
            return -1;                                    \
        }                                                 \
        return real names;                                \
    }
AFTERLOAD_FAULTY(fsync, (int file), (file), file)
AFTERLOAD_FAULTY(fdatasync, (int file), (file), file)
AFTERLOAD_FAULTY(ftruncate, (int file, off_t size), (file, size), file)
AFTERLOAD_FAULTY(rename, (const char* from, const char* to), (from, to), to)
AFTERLOAD_FAULTY(unlink, (const char* path), (path), path)
AFTERLOAD_FAULTY(mkdir, (const char* path, mode_t mode), (path, mode), path)

int open(const char* path, int flags, ...) {
    static auto* const real = next<int(const char*, int, ...)>("open");
    va_list rest;
    va_start(rest, flags);
    const mode_t mode = (flags & O_CREAT) != 0 ? va_arg(rest, mode_t) : 0;
    va_end(rest);
    if ((flags & (O_CREAT | O_TRUNC)) != 0 && counts(std::string(path)) && fate() == Fate::fails) {
        return -1;
    }
    return real(path, flags, mode);
}
int open64(const char* path, int flags, ...) {
    va_list rest;
    va_start(rest, flags);
    const mode_t mode = (flags & O_CREAT) != 0 ? va_arg(rest, mode_t) : 0;
    va_end(rest);
    return open(path, flags, mode);
}
}
