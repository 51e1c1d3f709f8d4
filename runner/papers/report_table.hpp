/// The shop's sheet: every figure of the run with its conditions, uncertainty, limit, margin scale
/// and verdict, grouped by signal path, one line of reason where it is not a plain pass.
#pragma once

#include "runner/papers/beside.hpp"
#include "runner/papers/figure_rows.hpp"
#include "runner/papers/html_text.hpp"

#include <vector>

namespace afterload::runner {

/// What persons said of a figure stands below its row.
void put_sheet_table(Html& html, const std::vector<RowGroup>& groups, const Beside& beside = {});

}  // namespace afterload::runner
