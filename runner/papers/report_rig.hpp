/// The back of the sheet: what the rig could resolve, the conditions, limits and where each came
/// from, the decision rule, what was not tested, events, files.
#pragma once

#include "runner/papers/html_text.hpp"
#include "runner/papers/run_document.hpp"

namespace afterload::runner {

void put_rig(Html& html, const RunDocument& run);         ///< bench, ranges, loads, calibration
void put_conditions(Html& html, const RunDocument& run);  ///< mains, room, readings, events, notes
void put_limits(Html& html, const RunDocument& run);      ///< limits, origins, the decision rule
void put_not_tested(Html& html, const RunDocument& run);
void put_files(Html& html, const RunDocument& run);  ///< files with their checksums, versions

}  // namespace afterload::runner
