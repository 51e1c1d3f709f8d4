/// Numbers and parts of a figure in plain words, for the one line of reason behind a verdict.
#pragma once

#include "analysis/figure.hpp"
#include "analysis/rating.hpp"

#include <string>
#include <string_view>

namespace afterload::analysis {

/// `value` of a figure of `kind` with its unit, `digits` significant digits: "0.0036 %", "17.9 V",
/// "1.2 mV", "40 W", "-0.3 dB", "120".
[[nodiscard]] std::string in_words(double value, FigureKind kind, int digits = 3);

/// What the rig adds to a figure of `kind`: "distortion", "noise", "hum", "leak between channels".
[[nodiscard]] std::string_view rig_word(FigureKind kind);

/// What makes the rig's part smaller: "a cleaner source and input would settle it".
[[nodiscard]] std::string_view rig_cure(FigureKind kind);

/// The largest line of `budget`, and what makes it smaller: "the larger part is load left
/// 2026-03-02, which a better calibration would narrow". Empty for an empty budget.
[[nodiscard]] std::string largest_line(const Budget& budget);

/// "weighting", "output level": a key of condition_keys() as a person says it.
[[nodiscard]] std::string spoken(std::string_view key);

}  // namespace afterload::analysis
