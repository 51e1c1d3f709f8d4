#include "runner/soak/soak_journal.hpp"

#include <cerrno>
#include <fcntl.h>
#include <system_error>
#include <unistd.h>
#include <utility>

namespace afterload::runner {

namespace {

std::string why() {
    return std::error_code{errno, std::generic_category()}.message();
}

}  // namespace

tl::expected<SoakJournal, std::string> SoakJournal::open(const RunFolder& folder,
                                                         const std::string& name) {
    const std::string path = folder.path() + "/" + name;
    const int file = ::open(path.c_str(), O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0644);
    if (file < 0) {
        return tl::unexpected(path + ": cannot be opened: " + why());
    }
    return SoakJournal{file, path};
}

SoakJournal::~SoakJournal() {
    if (file_ >= 0) {
        ::close(file_);
    }
}

SoakJournal::SoakJournal(SoakJournal&& other) noexcept
    : file_{std::exchange(other.file_, -1)}, path_{std::move(other.path_)} {}

SoakJournal& SoakJournal::operator=(SoakJournal&& other) noexcept {
    std::swap(file_, other.file_);
    std::swap(path_, other.path_);
    return *this;
}

tl::expected<void, std::string> SoakJournal::add(const Json& line) {
    const std::string text = json_line(line) + "\n";
    std::size_t done = 0;
    while (done < text.size()) {
        const ssize_t written = ::write(file_, text.data() + done, text.size() - done);
        if (written < 0 && errno == EINTR) {
            continue;
        }
        if (written <= 0) {
            return tl::unexpected(path_ + ": cannot be written: " + why());
        }
        done += static_cast<std::size_t>(written);
    }
    if (::fdatasync(file_) != 0) {
        return tl::unexpected(path_ + ": cannot be written: " + why());
    }
    return {};
}

}  // namespace afterload::runner
