/// What an event of a run may be called: in its record, and in rules that count events.
#pragma once

#include <string_view>
#include <vector>

namespace afterload {

inline constexpr std::string_view mains_event = "mains";    ///< the mains voltage went elsewhere
inline constexpr std::string_view sensor_event = "sensor";  ///< a sensor is not to be believed
inline constexpr std::string_view temperature_event = "temperature";  ///< a place is too warm

/// Every name that there is, each once: what a watch finds, what a soak sets limits on, what a
/// bench reports, and the three above.
[[nodiscard]] const std::vector<std::string_view>& event_names();

}  // namespace afterload
