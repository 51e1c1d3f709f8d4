/// What a finished run leaves in its folder beside run.json: figures.csv and report.html.
#pragma once

#include "runner/papers/beside.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/run_folder.hpp"

#include <tl/expected.hpp>

#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// The role of the earlier run's document among a run's input files.
inline constexpr const char* role_before = "before";
/// The role of the shop's own rules for hints.
inline constexpr const char* role_hints = "hints";
/// Copy of an earlier run's document that a person put beside a run later; it goes before the one
/// that the run was made with.
inline constexpr const char* before_file_name = "before.run.json";

/// What the folder itself holds to stand beside its document.
struct StoredBeside {
    std::optional<RunDocument> before;  ///< the earlier run named last, or that it was made with
    std::vector<Remark> remarks;
    std::optional<Hints> hints;      ///< by the rules that it was made with, if the shop's own
    std::vector<std::string> wrong;  ///< one line each: what of it cannot be read

    [[nodiscard]] Beside shown() const { return {before ? &*before : nullptr, remarks, hints}; }
};
[[nodiscard]] StoredBeside stored_beside(const RunFolder& folder, const RunDocument& run);

/// Writes both, with what the folder holds beside the document; `before` and `hints`, when given,
/// stand in the place of what it holds. The error names the first that could not be written.
[[nodiscard]] tl::expected<void, std::string> write_papers(const RunDocument& run,
                                                           const RunFolder& folder,
                                                           const RunDocument* before = nullptr,
                                                           const Hints* hints = nullptr);

}  // namespace afterload::runner
