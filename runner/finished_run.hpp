/// A run read back from its folder.
#pragma once

#include "runner/papers/run_document.hpp"
#include "runner/run_folder.hpp"

#include <tl/expected.hpp>

#include <string>

namespace afterload::runner {

struct FinishedRun {
    RunFolder folder;
    RunDocument document;
};

/// Opens the folder of a run and reads its document. Fails, in one line, when it is not one, or its
/// run.json is torn or edited.
[[nodiscard]] tl::expected<FinishedRun, std::string> read_finished_run(const std::string& path);

}  // namespace afterload::runner
