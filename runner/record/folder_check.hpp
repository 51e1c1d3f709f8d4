/// Whether the folder of a run is whole: every file that run.json names is there and is the one
/// whose checksum it wrote down.
#pragma once

#include "runner/papers/run_document.hpp"
#include "runner/run_folder.hpp"

#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

struct FolderFault {
    std::string path;                 ///< within the folder: "records/004-1.flac"
    std::string what;                 ///< "is missing", "is not the one that was measured: …"
    std::optional<std::size_t> step;  ///< whose record it is; absent for an input file

    /// "records/004-1.flac: is missing"
    [[nodiscard]] std::string text() const { return path + ": " + what; }
};

/// Everything that is wrong with the folder, in the order of run.json; empty when it is whole. The
/// figures in run.json have no checksum of their own: only a replay proves them.
[[nodiscard]] std::vector<FolderFault> faults_of_folder(const RunFolder& folder,
                                                        const RunDocument& run);

}  // namespace afterload::runner
