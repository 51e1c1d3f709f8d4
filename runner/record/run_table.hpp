/// Runs of the record as lines for a person, and as JSON.
#pragma once

#include "runner/papers/json_text.hpp"
#include "runner/papers/terminal_text.hpp"
#include "runner/record/run_index.hpp"

#include <tl/expected.hpp>

#include <string>
#include <vector>

namespace afterload::runner {

/// One run a line: when, serial, model, stage, how it ended, and the first figure that failed; how
/// much persons said, where they said anything.
[[nodiscard]] std::string run_table(const std::vector<IndexedRun>& runs, const Terminal& terminal);

/// Schema "afterload/runs/1".
[[nodiscard]] Json runs_json(const std::vector<IndexedRun>& runs);
/// And back. Fails, in one line with the place, on what is none.
[[nodiscard]] tl::expected<std::vector<IndexedRun>, std::string> runs_of_json(const Json& document);

}  // namespace afterload::runner
