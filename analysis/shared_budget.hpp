/// What the budgets of two readings have in common, and what is left of both in their difference.
#pragma once

#include "analysis/figure.hpp"

namespace afterload::analysis {

/// The budget of `after` less `before`; both are on one scale.
///
/// Systematic lines of one source are one error: |u_after - u_before| is left of them where
/// `sign_known`, else their sum, the worst that a correlation can do. Several of one name in one
/// budget pair in their order. All other lines stay, named by their side. `same_rig` false: nothing
/// is shared, whatever its name. `cancelled` gets the standard uncertainty that dropped out.
///
/// Source  GUM (JCGM 100:2008) 5.2.2 with correlations of 1 and 0.
[[nodiscard]] Budget budget_of_difference(const Budget& before, const Budget& after, bool same_rig,
                                          bool sign_known, double& cancelled);

}  // namespace afterload::analysis
