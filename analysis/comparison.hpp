/// Like with like: what a difference between the rated and the measured conditions does to a
/// verdict.
#pragma once

#include "analysis/figure.hpp"
#include "analysis/rating.hpp"
#include "analysis/standing.hpp"
#include "analysis/verdict.hpp"

#include <string>

namespace afterload::analysis {

/// Makes a plain pass or fail conditional and adds `because` to the reason.
void make_conditional(Verdict& verdict, const std::string& because);

/// A meter narrower than the rated one passes nothing plainly, a wider one fails nothing plainly;
/// the same holds for the count of harmonics.
void hold_meters_against_each_other(const Figure& figure, const RatedFigure& rated,
                                    Verdict& verdict);

/// Conditions the maker left open. Where the plausible conventions lie further apart than U + B (at
/// the limit or at the reading, whichever is larger) the figure is not comparable; nearer together
/// they make it conditional; where a habit settles them (spread 0) they do nothing.
void weigh_open_conditions(const RatedFigure& rated, double value, const Standing& at,
                           Verdict& verdict);

}  // namespace afterload::analysis
