/// All figures of a finished run computed again from the records and files in its folder.
#pragma once

#include "runner/papers/run_document.hpp"
#include "runner/run_folder.hpp"

#include <tl/expected.hpp>

#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// Sheets to score against in place of the run's own.
struct OtherSheets {
    RatingSheet unit;
    std::optional<RatingSheet> house;  ///< absent: the run's own house sheet, if it had one
};

/// The run's document with its figures, verdicts and spectra made anew from the stored records; the
/// input files are read from the folder, as they were used; with `other` sheets figures and
/// verdicts are what they would have been under those, at the levels that were driven then.
///
/// Fails   a file or record is missing, damaged or not the one that was measured: says which.
[[nodiscard]] tl::expected<RunDocument, std::string> replay(const RunFolder& folder,
                                                            const RunDocument& stored,
                                                            const OtherSheets* other = nullptr);

/// What two documents of one run say differently of its figures: one line a figure, "id: 0.0108 was
/// 0.0107". Empty when every number is the same to the last digit.
[[nodiscard]] std::vector<std::string> differences(const RunDocument& stored,
                                                   const RunDocument& again);

}  // namespace afterload::runner
