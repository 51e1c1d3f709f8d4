#include "analysis/event_names.hpp"

namespace afterload {

const std::vector<std::string_view>& event_names() {
    static const std::vector<std::string_view> names{
        // What a watch finds; some of it has a limit as well.
        "level", "dropout", "clipping", "gap", "repeat", "frozen", "offset", "hum", "noise",
        "distortion",
        // What a limit is set on.
        "offset_step", "level_drift", "level_step", "channel_difference", "distortion_ratio",
        "hum_rise", "noise_rise", "quiescent_ratio", "mains_power_ratio", "mains_power_fall",
        "mains_voltage_away", "relay_clicks", "events_an_hour",
        // What the bench reports.
        "capture_lost", "source_lost", "drive_not_off", "load_open", "load_hot", "smoke",
        "ground_fault", "contactor_open", "guardian_lost", "unit_removed", "disk_full",
        "update_pending", "program_late", "interrupted", "network_lost", "wall_clock_jumped",
        // What the places around the unit say.
        mains_event, sensor_event, temperature_event};
    return names;
}

}  // namespace afterload
