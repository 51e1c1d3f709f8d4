/// The index of the shop's runs: what list, search, statistics and history look at. The folders are
/// the truth; the index can be made from them at any time.
#pragma once

#include "analysis/conditions.hpp"
#include "runner/papers/beside.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/record/database.hpp"
#include "runner/record/run_query.hpp"
#include "sequences/job.hpp"

#include <tl/expected.hpp>

#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
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
    std::string bench;
    std::string failed;       ///< labels of the figures that failed, one a line
    std::string words;        ///< what persons wrote, one a line: "cause: ...", "anna: ..."
    std::string sha256;       ///< of run.json as it was indexed
    std::string stamp;        ///< sizes and times of run.json and remarks.jsonl as they were read
    std::size_t remarks = 0;  ///< how much persons said
};

/// What `failed` and `words` hold, line by line, and one line more.
[[nodiscard]] std::vector<std::string> lines_of(const std::string& text);
void add_line(std::string& text, std::string_view line);

/// A figure as statistics need it: what, where, under which conditions.
struct FigurePoint {
    FigureKind kind = FigureKind::output_voltage;
    int channel = 0;
    std::optional<std::pair<int, int>> pair;
    bool curve = false;  ///< one point, wherever its worst frequency lies
    std::string label;   ///< of the first figure that was found so; of a curve its kind
    std::string path;    ///< the heading it stands under: "Direct path"
    Conditions conditions;

    /// A figure without a number, to hold against others (analysis/likeness.hpp).
    [[nodiscard]] Figure figure() const;
};

/// What a run read at a point.
struct IndexedReading {
    std::int64_t point = 0;
    std::int64_t run = 0;  ///< its place in the index
    double value = 0.0;    ///< in the figure's unit; of a bound, the bound
    std::optional<Bound::Side> bound;
    double u_k1 = 0.0;
    std::string verdict;  ///< empty: not scored
};

/// A run with all that is indexed of it.
struct RunToIndex {
    IndexedRun line;
    struct Reading {
        FigurePoint point;
        IndexedReading reading;  ///< point and run are given when it is put
    };
    std::vector<Reading> readings;
};

/// What is indexed of a document that lies in `folder`, of the job file it was made with, and of
/// what was said of it.
[[nodiscard]] RunToIndex to_index(const RunDocument& run, const std::string& folder,
                                  const std::string& sha256, const sequences::Job* job,
                                  const std::vector<Remark>& remarks);

/// Runs by their place in the index.
using NumberedRuns = std::map<std::int64_t, IndexedRun>;
/// Points by their number.
using NumberedPoints = std::map<std::int64_t, FigurePoint>;

/// Whose readings are asked for; empty members ask for nothing.
struct ReadingQuery {
    std::string model;  ///< capitals or not
    std::string serial;
    std::string stage;    ///< as in run.json: "as_received"
    bool failed = false;  ///< only what failed, and the runs in which it did
};

/// Readings of some runs, with what they point at.
struct FoundReadings {
    NumberedRuns runs;
    NumberedPoints points;
    std::vector<IndexedReading> readings;  ///< run by run, oldest first
};

class RunIndex {
public:
    /// Opens or makes the index. Fails as Database does, in one line.
    [[nodiscard]] static tl::expected<RunIndex, std::string> open(const std::string& path);
    /// An index that another process keeps: to be read only. Fails when it is none of this version.
    [[nodiscard]] static tl::expected<RunIndex, std::string> open_to_read(const std::string& path);

    /// Takes a run in, in place of its former line.
    using Put = std::function<void(const RunToIndex&)>;
    /// Everything that `body` puts is there after it, or nothing. With `anew`, all else goes.
    [[nodiscard]] tl::expected<void, std::string> change(
        const std::function<void(const Put&)>& body, bool anew = false);
    /// Newest first.
    [[nodiscard]] tl::expected<std::vector<IndexedRun>, std::string> find(const RunQuery& query);
    /// Stamps of the runs that are over, by their ids.
    [[nodiscard]] tl::expected<std::map<std::string, std::string>, std::string> finished();
    /// Readings of the runs that are over.
    [[nodiscard]] tl::expected<FoundReadings, std::string> readings(const ReadingQuery& query);

private:
    explicit RunIndex(Database database) : database_{std::move(database)} {}
    [[nodiscard]] NumberedPoints points();
    Database database_;
};

}  // namespace afterload::runner
