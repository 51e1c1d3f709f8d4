#include "runner/record/run_record.hpp"

#include "runner/remarks/remark_file.hpp"

#include <utility>

namespace afterload::runner {

tl::expected<RunRecord, std::string> RunRecord::open(const std::string& runs) {
    auto index = RunIndex::open(runs + "/index.sqlite");
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
    FoundRuns found = read_runs(runs_, *known);
    if (auto put = index_.put(found.runs); !put) {
        return tl::unexpected(put.error());
    }
    return found;
}

tl::expected<FoundRuns, std::string> RunRecord::rebuild() {
    FoundRuns found = read_runs(runs_);
    if (auto replaced = index_.replace_all(found.runs); !replaced) {
        return tl::unexpected(replaced.error());
    }
    return found;
}

tl::expected<std::vector<IndexedRun>, std::string> RunRecord::find(const RunQuery& query) {
    auto found = index_.find(query);
    if (found) {
        for (IndexedRun& run : *found) {
            const auto folder = RunFolder::open(run.folder);
            run.remarks = folder ? read_remarks(*folder).remarks.size() : 0;
        }
    }
    return found;
}

}  // namespace afterload::runner
