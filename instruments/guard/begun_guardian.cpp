#include "instruments/guard/begun_guardian.hpp"

#include "instruments/guard/runtime_folder.hpp"

#include <climits>
#include <fmt/format.h>

#include <array>
#include <cerrno>
#include <spawn.h>
#include <sys/socket.h>
#include <system_error>
#include <unistd.h>
#include <utility>

namespace afterload::instruments {
namespace {

constexpr int descriptor_of_guardian = 3;

BenchFailure failure(std::string asked, std::string answered) {
    return {BenchFailure::Kind::lost, "guardian", std::move(asked), std::move(answered),
            Seconds{0.0}};
}

std::string beside_this_program() {
    std::array<char, PATH_MAX> path{};
    const ssize_t size = ::readlink("/proc/self/exe", path.data(), path.size());
    const std::string own{path.data(), size > 0 ? static_cast<std::size_t>(size) : 0};
    return own.substr(0, own.rfind('/') + 1) + "afterload-guardian";
}

/// Starts it in a session of its own, so that no Ctrl-C meant for the program reaches it.
BenchResult<pid_t> started(const std::string& program, int its_end) {
    posix_spawn_file_actions_t actions{};
    posix_spawnattr_t attributes{};
    ::posix_spawn_file_actions_init(&actions);
    ::posix_spawn_file_actions_adddup2(&actions, its_end, descriptor_of_guardian);
    ::posix_spawnattr_init(&attributes);
    ::posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSID);
    std::string name = program;
    std::array<char*, 2> arguments{name.data(), nullptr};
    pid_t child = -1;
    const int error =
        ::posix_spawn(&child, program.c_str(), &actions, &attributes, arguments.data(), environ);
    ::posix_spawn_file_actions_destroy(&actions);
    ::posix_spawnattr_destroy(&attributes);
    if (error != 0) {
        return tl::unexpected(failure("start " + program, std::generic_category().message(error)));
    }
    return child;
}

BenchResult<BegunGuardian> begun_by_us(const std::string& program) {
    std::array<int, 2> ends{-1, -1};
    if (::socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends.data()) != 0) {
        return tl::unexpected(failure("start", std::generic_category().message(errno)));
    }
    const auto child = started(program, ends[1]);
    ::close(ends[1]);
    if (!child) {
        ::close(ends[0]);
        return tl::unexpected(child.error());
    }
    return BegunGuardian{ends[0], *child};
}

/// A service starts one for each that connects, so that what ends this program and all that it
/// started leaves the guardian alive.
BenchResult<BegunGuardian> begun_by_service(const std::string& door) {
    const int own_end = connect_to_door(door);
    if (own_end < 0) {
        return tl::unexpected(failure(
            "reach it at " + door,
            fmt::format("{}; AFTERLOAD_GUARDIAN names it, a service keeps it: start that, or leave "
                        "the variable out",
                        std::generic_category().message(-own_end))));
    }
    return BegunGuardian{own_end, -1};
}

}  // namespace

BenchResult<BegunGuardian> begin_guardian(const std::string& program) {
    if (!program.empty()) {
        return begun_by_us(program);
    }
    const std::string door = guardian_service();
    return door.empty() ? begun_by_us(beside_this_program()) : begun_by_service(door);
}

}  // namespace afterload::instruments
