#include "runner/remarks/remark_file.hpp"

#include "runner/papers/json_place.hpp"
#include "runner/papers/run_json.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <fcntl.h>
#include <sys/file.h>
#include <system_error>
#include <unistd.h>

namespace afterload::runner {
namespace {

constexpr std::string_view remark_schema = "afterload/remark/1";

/// A descriptor that closes itself.
class Descriptor {
public:
    explicit Descriptor(int number) : number_{number} {}
    ~Descriptor() {
        if (number_ >= 0) {
            ::close(number_);
        }
    }
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    [[nodiscard]] int number() const { return number_; }

private:
    int number_;
};

tl::unexpected<std::string> failure(const std::string& path) {
    return tl::unexpected(path + ": " + std::generic_category().message(errno));
}

bool ends_in_a_whole_line(int file) {
    const off_t size = ::lseek(file, 0, SEEK_END);
    char last = '\n';
    return size <= 0 || (::pread(file, &last, 1, size - 1) == 1 && last == '\n');
}

Remark get_remark(const JsonPlace& place) {
    if (place.at("schema").text() != remark_schema) {
        place.at("schema").misfit("is not afterload/remark/1");
    }
    Remark remark;
    const std::string kind = place.at("kind").text();
    if (kind != "note" && kind != "accept") {
        place.at("kind").misfit("note or accept is needed");
    }
    remark.kind = kind == "accept" ? Remark::Kind::accept : Remark::Kind::note;
    remark.at = place.at("at").text();
    remark.by = place.at("by").text();
    remark.text = place.at("text").text();
    if (remark.kind == Remark::Kind::accept) {
        remark.figure = place.at("figure").text();
    }
    return remark;
}

}  // namespace

Json remark_json(const Remark& remark) {
    Json out;
    out["schema"] = remark_schema;
    out["kind"] = name(remark.kind);
    out["at"] = remark.at;
    out["by"] = remark.by;
    if (remark.kind == Remark::Kind::accept) {
        out["figure"] = remark.figure;
    }
    out["text"] = remark.text;
    return out;
}

Json run_with_remarks(const RunDocument& run, const Beside& beside) {
    Json out = run_json(run);
    for (const Remark& remark : beside.remarks) {
        out["remarks"].push_back(remark_json(remark));
    }
    return out;
}

tl::expected<void, std::string> add_remark(const RunFolder& folder, const Remark& remark) {
    const std::string path = folder.path() + "/" + remark_file_name;
    const Descriptor file{
        ::open(path.c_str(), O_RDWR | O_APPEND | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0644)};
    if (file.number() < 0) {
        return failure(path);
    }
    // Two who speak at once take turns; the lock goes with the descriptor.
    if (::flock(file.number(), LOCK_EX) != 0) {
        return failure(path);
    }
    std::string line = ends_in_a_whole_line(file.number()) ? "" : "\n";
    line += json_line(remark_json(remark)) + "\n";
    for (std::size_t written = 0; written < line.size();) {
        const ssize_t more = ::write(file.number(), line.data() + written, line.size() - written);
        if (more < 0 && errno == EINTR) {
            continue;
        }
        if (more <= 0) {
            return failure(path);
        }
        written += static_cast<std::size_t>(more);
    }
    if (::fsync(file.number()) != 0) {
        return failure(path);
    }
    const Descriptor parent{::open(folder.path().c_str(), O_RDONLY | O_CLOEXEC)};
    if (parent.number() < 0 || ::fsync(parent.number()) != 0) {
        return failure(folder.path());
    }
    return {};
}

ReadRemarks read_remarks(const RunFolder& folder) {
    ReadRemarks found;
    const auto text = folder.read(remark_file_name);
    if (!text) {
        return found;
    }
    int number = 0;
    for (std::size_t start = 0; start < text->size();) {
        const std::size_t end = std::min(text->find('\n', start), text->size());
        const std::string_view line = std::string_view{*text}.substr(start, end - start);
        start = end + 1;
        ++number;
        if (line.empty()) {
            continue;
        }
        const auto document = parse_json(line, {std::size_t{1} << 20U, 8});
        if (!document) {
            found.unreadable.push_back(
                fmt::format("{}:{}: {}", remark_file_name, number, document.error()));
            continue;
        }
        try {
            found.remarks.push_back(get_remark(JsonPlace{*document}));
        } catch (const JsonMisfit& misfit) {
            found.unreadable.push_back(
                fmt::format("{}:{}: {}", remark_file_name, number, misfit.what()));
        }
    }
    return found;
}

}  // namespace afterload::runner
