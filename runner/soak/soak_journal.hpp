/// What happens in a soak, a line each as it happens: the next line is only begun when this one is
/// on the disk.
#pragma once

#include "runner/papers/json_text.hpp"
#include "runner/run_folder.hpp"

#include <tl/expected.hpp>

#include <string>

namespace afterload::runner {

class SoakJournal {
public:
    /// Appends to `name` within the folder; it is made where it is not there.
    [[nodiscard]] static tl::expected<SoakJournal, std::string> open(const RunFolder& folder,
                                                                     const std::string& name);
    ~SoakJournal();
    SoakJournal(SoakJournal&& other) noexcept;
    SoakJournal& operator=(SoakJournal&& other) noexcept;
    SoakJournal(const SoakJournal&) = delete;
    SoakJournal& operator=(const SoakJournal&) = delete;

    /// Durable when it returns. Fails, in one line, where the disk takes no more.
    [[nodiscard]] tl::expected<void, std::string> add(const Json& line);

private:
    SoakJournal(int file, std::string path) : file_{file}, path_{std::move(path)} {}
    int file_ = -1;
    std::string path_;
};

}  // namespace afterload::runner
