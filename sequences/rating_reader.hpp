/// A rating sheet (`afterload: rating/1`) from its text.
#pragma once

#include "analysis/rating.hpp"
#include "sequences/diagnostic.hpp"

#include <tl/expected.hpp>

#include <string>
#include <string_view>

namespace afterload::sequences {

/// Reads a unit's rating sheet, or a house sheet (one without a unit, `house: true`).
///
/// Limits are in the unit of their figure (analysis/figure.hpp); a figure of a house sheet has the
/// origin house and, unless it says otherwise, the source "house rule".
///
/// Fails   with every mistake of the file; never throws. `path` is only named in the mistakes.
[[nodiscard]] tl::expected<RatingSheet, Diagnostics> read_rating(std::string_view text,
                                                                 std::string path);

}  // namespace afterload::sequences
