#include "instruments/guard/runtime_folder.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <cstdlib>
#include <fcntl.h>
#include <filesystem>
#include <functional>
#include <sys/file.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <system_error>
#include <unistd.h>

namespace afterload::instruments {

std::string runtime_folder() {
    const char* const given =
        std::getenv("XDG_RUNTIME_DIR");  // NOLINT(concurrency-mt-unsafe): nobody sets it here
    const bool own = given != nullptr && *given != '\0';
    std::string folder =
        own ? std::string{given} + "/afterload"
            : fmt::format("{}/afterload-{}", std::filesystem::temp_directory_path().string(),
                          ::getuid());
    if (::mkdir(folder.c_str(), 0700) != 0 && errno != EEXIST) {
        throw std::system_error(errno, std::generic_category(), folder);
    }
    struct stat found {};
    if (::lstat(folder.c_str(), &found) != 0 || !S_ISDIR(found.st_mode) ||
        found.st_uid != ::getuid()) {
        throw std::system_error(EPERM, std::generic_category(),
                                folder + " is no folder of this user");
    }
    return folder;
}

std::string guardian_service() {
    const char* const door =
        std::getenv("AFTERLOAD_GUARDIAN");  // NOLINT(concurrency-mt-unsafe): nobody sets it here
    return door == nullptr ? std::string{} : std::string{door};
}

int connect_to_door(const std::string& path) {
    sockaddr_un place{};
    place.sun_family = AF_UNIX;
    if (path.size() >= sizeof place.sun_path) {
        return -ENAMETOOLONG;
    }
    path.copy(static_cast<char*>(place.sun_path), path.size());
    const int descriptor = ::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (descriptor < 0) {
        return -errno;
    }
    const auto* const address = reinterpret_cast<const sockaddr*>(&place);
    if (::connect(descriptor, address, sizeof place) != 0) {
        const int error = errno;
        ::close(descriptor);
        return -error;
    }
    return descriptor;
}

int lock_instrument(std::string_view identity) {
    std::string plain;
    for (const char letter : identity.substr(0, 60)) {
        const bool fine = (letter >= 'a' && letter <= 'z') || (letter >= 'A' && letter <= 'Z') ||
                          (letter >= '0' && letter <= '9');
        plain += fine ? letter : '_';
    }
    const std::string path = fmt::format("{}/{}-{:x}.lock", runtime_folder(), plain,
                                         std::hash<std::string_view>{}(identity));
    const int descriptor = ::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (descriptor < 0) {
        throw std::system_error(errno, std::generic_category(), path);
    }
    if (::flock(descriptor, LOCK_EX | LOCK_NB) != 0) {
        ::close(descriptor);
        return -1;
    }
    return descriptor;
}

}  // namespace afterload::instruments
