/// The folders of the runs as a whole: read for the index, and tidied after a power cut.
#pragma once

#include "runner/record/run_index.hpp"

#include <functional>
#include <map>
#include <string>
#include <vector>

namespace afterload::runner {

/// What was found in the folders of runs.
struct FoundRuns {
    std::size_t read = 0;                  ///< runs that were read
    std::vector<std::string> interrupted;  ///< ids of the runs that were marked so
    std::vector<std::string> unreadable;   ///< one line each: which folder and why
};

/// Reads run.json of every folder in `runs`, with its job file and what persons said, and hands
/// each to `take`; but not those whose name and stamp are in `known`: nothing came to them since. A
/// folder without a run.json that can be read is named and left as it is.
///
/// A run that says it is running, though nothing carries it out any more, is marked as interrupted
/// in its folder; what was measured until then stays.
[[nodiscard]] FoundRuns read_runs(const std::string& runs,
                                  const std::map<std::string, std::string>& known,
                                  const std::function<void(const RunToIndex&)>& take);

}  // namespace afterload::runner
