/// Times for people: durations in words, times in a run as a clock, stamps as dates.
#pragma once

#include "analysis/quantity.hpp"

#include <string>
#include <string_view>

namespace afterload::runner {

/// "4.0 s", "9 min 40 s", "1 h 52 min", "4 h".
[[nodiscard]] std::string duration_words(Seconds time);

/// "0:12", "1:12:04": minutes and seconds, with hours when there are any.
[[nodiscard]] std::string clock_text(Seconds time);

/// "2026-03-12 16:05 UTC" of "2026-03-12T16:05:31.000Z"; other text unchanged.
[[nodiscard]] std::string stamp_text(std::string_view rfc3339);

/// "14 March 2026" of a stamp or an ISO date; other text unchanged.
[[nodiscard]] std::string date_words(std::string_view rfc3339);

}  // namespace afterload::runner
