/// Every figure of a run as one table: RFC 4180, CRLF, a header row, UTF-8 without a mark, decimal
/// points, SI units, one row a figure (a harmonic table or a curve has one row of its own; its
/// points stand in run.json).
#pragma once

#include "runner/papers/run_document.hpp"

#include <string>
#include <string_view>

namespace afterload::runner {

[[nodiscard]] std::string figures_csv(const RunDocument& run);

/// A cell of text: quoted when it must be, and led by an apostrophe when a spreadsheet would take
/// it for a formula (it begins with = + - @, tab or return).
[[nodiscard]] std::string csv_text(std::string_view text);

}  // namespace afterload::runner
