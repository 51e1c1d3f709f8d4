/// The run document as JSON (schema "afterload/run/1", runner/papers/schemas/run.schema.json), and
/// back.
///
/// This is the one true document of a run; sheet, table and report derive from it. Reading back
/// gives what was written to the last bit. Fields that a later version adds are ignored.
#pragma once

#include "runner/papers/json_text.hpp"
#include "runner/papers/run_document.hpp"

#include <tl/expected.hpp>

#include <string>
#include <string_view>

namespace afterload::runner {

inline constexpr std::string_view run_schema = "afterload/run/1";

[[nodiscard]] Json run_json(const RunDocument& run);

/// One figure with its rating and verdict, as it stands in a step of the document.
[[nodiscard]] Json scored_figure_json(const ScoredFigure& entry);

/// run_json() as it stands in a run folder.
[[nodiscard]] std::string run_json_text(const RunDocument& run);

/// Reads a run document.
///
/// Fails   torn text, another schema, a field missing or of the wrong kind (with its place), a
/// number
///         that contradicts another in the file: u_k1 and its budget, the verdict and the figures.
[[nodiscard]] tl::expected<RunDocument, std::string> read_run_json(std::string_view text);

}  // namespace afterload::runner
