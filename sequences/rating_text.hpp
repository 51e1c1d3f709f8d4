/// A rating sheet as text, with comments, as a person would write it; the way back of
/// rating_reader.hpp.
#pragma once

#include "analysis/rating.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace afterload::sequences {

/// A rated figure and what stands above it as comments.
struct RatingEntry {
    RatedFigure rated;
    std::vector<std::string> comments;
};

/// The mapping below `unit:`, indented by two blanks, without that line. Keys whose text is empty
/// are left out; read_rating() then misses them.
[[nodiscard]] std::string unit_text(const UnitDescription& unit);

/// One item of the list below `figures:`, indented by two blanks, with its comments above it.
/// A nominal value in the middle of its limits is written with its tolerance, any other limit by
/// its ends.
[[nodiscard]] std::string rating_text(const RatingEntry& entry);

/// The limit in one line: "at least 45 W", "between -1.5 dB and 0 dB", "41.5 dB ± 1.5 dB".
[[nodiscard]] std::string limit_words(const Limit& limit, FigureKind kind);

/// The value of the condition `key` as a file states it; empty where it is not stated.
[[nodiscard]] std::string condition_value(const Conditions& conditions, std::string_view key);

}  // namespace afterload::sequences
