/// The report of a run: one self-contained page. The customer's statement on top, the shop's sheet
/// with every figure, plots, what the rig could resolve, conditions, limits, files.
///
/// No script, no network, no picture file; all that comes from outside is escaped. It reads on a
/// screen, on a phone, in the dark, and prints on A4 and Letter.
#pragma once

#include "runner/papers/beside.hpp"
#include "runner/papers/run_document.hpp"

#include <string>

namespace afterload::runner {

/// `beside`: an earlier run, whose values stand beside these on the first page and whose curves
/// stand in grey under theirs; and what persons said.
[[nodiscard]] std::string report_html(const RunDocument& run, const Beside& beside = {});

}  // namespace afterload::runner
