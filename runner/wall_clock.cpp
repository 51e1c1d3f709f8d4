#include "runner/wall_clock.hpp"

#include <fmt/format.h>

#include <chrono>
#include <ctime>

namespace afterload::runner {

std::string wall_clock_stamp() {
    const auto now = std::chrono::system_clock::now();
    const auto whole = std::chrono::floor<std::chrono::seconds>(now);
    const auto milliseconds =
        std::chrono::duration_cast<std::chrono::milliseconds>(now - whole).count();
    const std::time_t seconds = std::chrono::system_clock::to_time_t(whole);
    std::tm utc{};
    gmtime_r(&seconds, &utc);
    return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}.{:03}Z", utc.tm_year + 1900,
                       utc.tm_mon + 1, utc.tm_mday, utc.tm_hour, utc.tm_min, utc.tm_sec,
                       milliseconds);
}

std::string short_stamp(const std::string& rfc3339) {
    std::string stamp;
    for (const char letter : rfc3339) {
        if (letter == '.') {
            break;
        }
        if (letter != '-' && letter != ':') {
            stamp += letter;
        }
    }
    return stamp + "Z";
}

std::optional<double> hours_between(const std::string& earlier, const std::string& later) {
    const auto seconds = [](const std::string& stamp) -> std::optional<std::time_t> {
        std::tm utc{};
        if (strptime(stamp.c_str(), "%Y-%m-%dT%H:%M:%S", &utc) == nullptr) {
            return std::nullopt;
        }
        return timegm(&utc);
    };
    const auto from = seconds(earlier);
    const auto to = seconds(later);
    return from && to ? std::optional{std::difftime(*to, *from) / 3600.0} : std::nullopt;
}

}  // namespace afterload::runner
