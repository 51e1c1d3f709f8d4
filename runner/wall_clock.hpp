/// Wall time, for stamps only; durations come from the bench's clock.
#pragma once

#include <optional>
#include <string>

namespace afterload::runner {

/// Now, as RFC 3339 in UTC with milliseconds: "2026-03-04T10:00:00.000Z".
[[nodiscard]] std::string wall_clock_stamp();

/// The stamp in the name of a run: "20260304T100000Z".
[[nodiscard]] std::string short_stamp(const std::string& rfc3339);

/// Hours from one RFC 3339 stamp in UTC to a later one; empty where one is none.
[[nodiscard]] std::optional<double> hours_between(const std::string& earlier,
                                                  const std::string& later);

}  // namespace afterload::runner
