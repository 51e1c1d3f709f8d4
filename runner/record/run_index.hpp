/// The index of the shop's runs: what list and search look at. The folders are the truth; the index
/// can be made from them at any time.
#pragma once

#include "runner/papers/run_document.hpp"
#include "runner/record/database.hpp"
#include "runner/record/run_query.hpp"

#include <tl/expected.hpp>

#include <set>
#include <string>
#include <vector>

namespace afterload::runner {

/// One line of the index.
struct IndexedRun {
    std::string id;
    std::string folder;
    std::string job;
    std::string stage;
    std::string state;
    std::string verdict;
    std::string started;
    std::string ended;
    std::string maker;
    std::string model;
    std::string serial;
    std::string sequence;
    std::string failed;       ///< labels of the figures that failed, one a line
    std::string sha256;       ///< of run.json as it was indexed
    std::size_t remarks = 0;  ///< how much persons said: of the folder, not of the index
};

/// The line of a document that lies in `folder`.
[[nodiscard]] IndexedRun indexed(const RunDocument& run, const std::string& folder,
                                 const std::string& sha256);

class RunIndex {
public:
    /// Opens or makes the index. Fails as Database does, in one line.
    [[nodiscard]] static tl::expected<RunIndex, std::string> open(const std::string& path);

    /// All of `runs`, new or in place of their former lines, or none.
    [[nodiscard]] tl::expected<void, std::string> put(const std::vector<IndexedRun>& runs);
    /// Newest first.
    [[nodiscard]] tl::expected<std::vector<IndexedRun>, std::string> find(const RunQuery& query);
    /// Ids of the runs that are over: their lines change no more by themselves.
    [[nodiscard]] tl::expected<std::set<std::string>, std::string> finished();
    /// All lines replaced by `runs`, or none.
    [[nodiscard]] tl::expected<void, std::string> replace_all(const std::vector<IndexedRun>& runs);

private:
    explicit RunIndex(Database database) : database_{std::move(database)} {}
    Database database_;
};

}  // namespace afterload::runner
