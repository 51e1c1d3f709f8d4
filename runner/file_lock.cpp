#include "runner/file_lock.hpp"

#include <cerrno>
#include <fcntl.h>
#include <sys/file.h>
#include <thread>
#include <unistd.h>

namespace afterload::runner {

tl::expected<FileLock, std::error_code> FileLock::take(const std::string& path, int flags,
                                                       std::chrono::milliseconds patience) {
    constexpr std::chrono::milliseconds between{20};
    constexpr int mode = 0640;
    const int file = ::open(path.c_str(), flags | O_CLOEXEC, mode);
    if (file < 0) {
        return tl::unexpected(std::error_code{errno, std::generic_category()});
    }
    FileLock lock{std::shared_ptr<const int>{new int{file}, [](const int* held) {
                                                 ::close(*held);
                                                 delete held;
                                             }}};
    while (::flock(file, LOCK_EX | LOCK_NB) != 0) {
        const std::error_code error{errno, std::generic_category()};
        if (!is_held(error) || patience < between) {
            return tl::unexpected(error);
        }
        std::this_thread::sleep_for(between);
        patience -= between;
    }
    return lock;
}

tl::expected<FileLock, std::error_code> FileLock::of_folder(const std::string& path) {
    return take(path, O_RDONLY | O_DIRECTORY);
}

tl::expected<FileLock, std::error_code> FileLock::of_file(const std::string& path,
                                                          std::chrono::milliseconds patience) {
    return take(path, O_RDWR | O_CREAT, patience);
}

}  // namespace afterload::runner
