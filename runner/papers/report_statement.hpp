/// What a run says in one or two sentences: for the customer, and as the headline of the shop's
/// sheet.
#pragma once

#include "runner/papers/run_document.hpp"

#include <string>
#include <string_view>

namespace afterload::runner {

/// For the customer, from the stage and the verdicts: "Repaired. All ten figures below meet their
/// ratings." Repaired is said at the stages repaired, soaked and cold only, and not while a figure
/// fails. A row meets its rating when it passes or passes conditionally.
[[nodiscard]] std::string statement(const RunDocument& run);

/// For the shop: the verdict and its cause: "Fails on one figure: damping factor, right".
[[nodiscard]] std::string headline(const RunDocument& run);

/// A figure as the customer calls it: "background noise".
[[nodiscard]] std::string_view plain_words(FigureKind kind);

/// "one" to "twelve", then digits.
[[nodiscard]] std::string number_word(int number);

}  // namespace afterload::runner
