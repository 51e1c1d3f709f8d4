/// What a finished run leaves in its folder beside run.json: figures.csv and report.html.
#pragma once

#include "runner/papers/run_document.hpp"
#include "runner/run_folder.hpp"

#include <tl/expected.hpp>

#include <string>

namespace afterload::runner {

/// Writes both; the error names the first that could not be written.
[[nodiscard]] tl::expected<void, std::string> write_papers(const RunDocument& run,
                                                           const RunFolder& folder);

}  // namespace afterload::runner
