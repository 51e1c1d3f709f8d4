/// By what a standard uncertainty is multiplied, so that it holds the true value in 95.45 % of all
/// cases: 2 where it is known well.
#pragma once

#include <limits>

namespace afterload::analysis {

/// The factor k for an uncertainty with `degrees_of_freedom`, and for the largest of `choices`
/// independent errors of the same kind: the whole largest of them then stays below k as often as
/// one of them stays below 2.
///
/// Units   none; 2 for infinite degrees of freedom and one choice.
/// Shape   degrees of freedom are truncated to a whole number, at least 1; choices at least 1.
/// Source  Student's distribution, GUM (JCGM 100:2008) G.3 and table G.2, column 95.45 %; the
///         largest of several after Z. Šidák, J. Amer. Statist. Assoc. 62 (1967) 626.
[[nodiscard]] double coverage_factor(
    double degrees_of_freedom = std::numeric_limits<double>::infinity(), int choices = 1);

}  // namespace afterload::analysis
