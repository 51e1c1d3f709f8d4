#include "runner/record/run_record.hpp"

#include <utility>

namespace afterload::runner {

tl::expected<RunRecord, std::string> RunRecord::open(const std::string& runs) {
    auto index = RunIndex::open(runs + "/index.sqlite");
    if (!index) {
        return tl::unexpected(index.error());
    }
    return RunRecord{runs, *std::move(index)};
}

tl::expected<RunRecord, std::string> RunRecord::open_to_read(const std::string& runs) {
    auto index = RunIndex::open_to_read(runs + "/index.sqlite");
    if (!index) {
        return tl::unexpected(index.error());
    }
    return RunRecord{runs, *std::move(index)};
}

tl::expected<FoundRuns, std::string> RunRecord::refresh() {
    const auto known = index_.finished();
    if (!known) {
        return tl::unexpected(known.error());
    }
    FoundRuns found;
    if (auto put = index_.change(
            [&](const RunIndex::Put& take) { found = read_runs(runs_, *known, take); });
        !put) {
        return tl::unexpected(put.error());
    }
    return found;
}

tl::expected<FoundRuns, std::string> RunRecord::rebuild() {
    FoundRuns found;
    if (auto replaced = index_.change(
            [&](const RunIndex::Put& take) { found = read_runs(runs_, {}, take); }, true);
        !replaced) {
        return tl::unexpected(replaced.error());
    }
    return found;
}

tl::expected<std::vector<IndexedRun>, std::string> RunRecord::find(const RunQuery& query) {
    return index_.find(query);
}

tl::expected<FoundReadings, std::string> RunRecord::readings(const ReadingQuery& query) {
    return index_.readings(query);
}

}  // namespace afterload::runner
