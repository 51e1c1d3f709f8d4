#include "runner/durable_file.hpp"

#include <cerrno>
#include <cstdio>
#include <fcntl.h>
#include <filesystem>
#include <fstream>
#include <system_error>
#include <unistd.h>

namespace afterload::runner {
namespace {

std::string why(const std::string& path) {
    return path + ": " + std::generic_category().message(errno);
}

/// Flushes a file or a folder to the disk.
tl::expected<void, std::string> flush(const std::string& path) {
    const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (file < 0) {
        return tl::unexpected(why(path));
    }
    const int flushed = ::fsync(file);
    ::close(file);
    if (flushed != 0) {
        return tl::unexpected(why(path));
    }
    return {};
}

}  // namespace

tl::expected<void, std::string> settle(const std::string& temporary,
                                       const std::string& final_path) {
    if (auto flushed = flush(temporary); !flushed) {
        return flushed;
    }
    if (std::rename(temporary.c_str(), final_path.c_str()) != 0) {
        return tl::unexpected(why(final_path));
    }
    const std::string folder = std::filesystem::path{final_path}.parent_path().string();
    return flush(folder.empty() ? "." : folder);
}

tl::expected<void, std::string> write_durably(const std::string& path, std::string_view bytes) {
    const std::string temporary = path + ".part";
    {
        std::ofstream file{temporary, std::ios::binary | std::ios::trunc};
        file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
        file.close();
        if (!file) {
            return tl::unexpected(path + ": could not be written: is the disk full?");
        }
    }
    return settle(temporary, path);
}

}  // namespace afterload::runner
