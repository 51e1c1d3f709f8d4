/// The record of the shop: the folders of its runs and their index, held together.
#pragma once

#include "runner/record/run_folders.hpp"
#include "runner/record/run_index.hpp"

#include <tl/expected.hpp>

#include <string>
#include <utility>
#include <vector>

namespace afterload::runner {

class RunRecord {
public:
    /// The record of the folder `runs`, which is there; its index lies in it as index.sqlite.
    /// Fails, in one line, when the index cannot be used.
    [[nodiscard]] static tl::expected<RunRecord, std::string> open(const std::string& runs);
    /// The same to be read only, while another process (afterloadd) keeps it up to date.
    [[nodiscard]] static tl::expected<RunRecord, std::string> open_to_read(const std::string& runs);

    /// Reads what came since, from whatever process, and tells what it read.
    [[nodiscard]] tl::expected<FoundRuns, std::string> refresh();
    /// Makes the whole index anew from the folders.
    [[nodiscard]] tl::expected<FoundRuns, std::string> rebuild();
    /// Newest first, each with how much persons said of it.
    [[nodiscard]] tl::expected<std::vector<IndexedRun>, std::string> find(const RunQuery& query);
    [[nodiscard]] tl::expected<FoundReadings, std::string> readings(const ReadingQuery& query);

private:
    RunRecord(std::string runs, RunIndex index)
        : runs_{std::move(runs)}, index_{std::move(index)} {}
    std::string runs_;
    RunIndex index_;
};

}  // namespace afterload::runner
