/// An old run scored against a changed rating sheet, from its stored records: nothing is measured
/// again, and what the run said stays as it is.
#pragma once

#include "runner/papers/json_text.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/run.hpp"
#include "runner/run_folder.hpp"

#include <tl/expected.hpp>

#include <string>
#include <vector>

namespace afterload::runner {

/// A figure whose verdict, limit or value is not what it was.
struct Rescored {
    const ScoredFigure* before = nullptr;  ///< null: was not measured so before
    const ScoredFigure* after = nullptr;   ///< null: has no place any more
};

/// Scores the run in `folder` against other sheets. `sheets` are the files: "rating", and "house"
/// where the shop's own changed too; without it the house sheet of the run counts on.
///
/// A level that was driven as `rated` stays what it was in watts: where the new sheet rates another
/// power, a figure at that level is no longer the one at its rated output.
///
/// Fails   a sheet with mistakes, or of another unit; a file or record of the run that is missing,
///         damaged or not the one that was measured.
[[nodiscard]] tl::expected<RunDocument, std::string> rescored(const RunFolder& folder,
                                                              const RunDocument& run,
                                                              const std::vector<InputText>& sheets);

/// What became of the figures, in the order of the run; those that stayed as they were left out.
[[nodiscard]] std::vector<Rescored> changes(const RunDocument& before, const RunDocument& after);

/// The document beside the run (schema "afterload/rescore/1",
/// runner/papers/schemas/rescore.schema.json): the old verdicts beside the new, and the whole run
/// as it stands now. `made` is an RFC 3339 stamp.
[[nodiscard]] Json rescore_json(const RunDocument& before, const RunDocument& after,
                                const std::string& made);

}  // namespace afterload::runner
