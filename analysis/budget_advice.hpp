/// What to do about an uncertainty: its largest part, and what makes that smaller.
#pragma once

#include "analysis/figure.hpp"

#include <string>

namespace afterload::analysis {

/// One or two sentences: the largest line of the budget, its share of the variance, how large U
/// would be without it, and what shrinks it most: a record so many times as long, a calibration, a
/// load measured with four wires, points closer together. Empty for a figure without a budget.
///
/// "86 % of the variance is load left, 2026-03-02: measure the load with four wires. Without it U
/// would be 0.18 W instead of 0.48 W."
[[nodiscard]] std::string what_would_shrink(const Figure& figure);

}  // namespace afterload::analysis
