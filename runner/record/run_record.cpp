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

tl::expected<Refreshed, std::string> RunRecord::refresh() {
    Refreshed done;
    done.interrupted = mark_interrupted(runs_);
    const auto known = index_.finished();
    if (!known) {
        return tl::unexpected(known.error());
    }
    FoundRuns found = read_runs(runs_, *known);
    for (const IndexedRun& run : found.runs) {
        if (auto put = index_.put(run); !put) {
            return tl::unexpected(put.error());
        }
    }
    done.indexed = found.runs.size();
    done.unreadable = std::move(found.unreadable);
    return done;
}

tl::expected<Refreshed, std::string> RunRecord::rebuild() {
    Refreshed done;
    done.interrupted = mark_interrupted(runs_);
    FoundRuns found = read_runs(runs_);
    if (auto replaced = index_.replace_all(found.runs); !replaced) {
        return tl::unexpected(replaced.error());
    }
    done.indexed = found.runs.size();
    done.unreadable = std::move(found.unreadable);
    return done;
}

}  // namespace afterload::runner
