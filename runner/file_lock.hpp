/// An advisory lock that a process holds on a file or folder; the kernel lets it go with the
/// process, however that ends.
#pragma once

#include <tl/expected.hpp>

#include <chrono>
#include <memory>
#include <string>
#include <system_error>
#include <utility>

namespace afterload::runner {

/// Held until the last copy is gone.
class FileLock {
public:
    /// Locks the folder `path`.
    [[nodiscard]] static tl::expected<FileLock, std::error_code> of_folder(const std::string& path);
    /// Locks the file `path`, made where it is not there. Waits `patience` for one who holds it.
    [[nodiscard]] static tl::expected<FileLock, std::error_code> of_file(
        const std::string& path, std::chrono::milliseconds patience = {});
    /// True of the error with which either fails when another holds the lock.
    [[nodiscard]] static bool is_held(const std::error_code& error) {
        return error == std::errc::operation_would_block;
    }

private:
    explicit FileLock(std::shared_ptr<const int> file) : file_{std::move(file)} {}
    [[nodiscard]] static tl::expected<FileLock, std::error_code> take(
        const std::string& path, int flags, std::chrono::milliseconds patience = {});
    std::shared_ptr<const int> file_;
};

}  // namespace afterload::runner
