/// The report of a run: one self-contained page. The customer's statement on top, the shop's sheet
/// with every figure, plots, what the rig could resolve, conditions, limits, files.
///
/// No script, no network, no picture file; all that comes from outside is escaped. It reads on a
/// screen, on a phone, in the dark, and prints on A4 and Letter.
#pragma once

#include "runner/papers/run_document.hpp"

#include <string>

namespace afterload::runner {

[[nodiscard]] std::string report_html(const RunDocument& run);

}  // namespace afterload::runner
