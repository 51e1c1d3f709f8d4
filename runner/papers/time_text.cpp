#include "runner/papers/time_text.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstdlib>

namespace afterload::runner {

namespace {

bool has_digits(std::string_view text, std::initializer_list<std::size_t> at) {
    for (const std::size_t i : at) {
        if (i >= text.size() || text[i] < '0' || text[i] > '9') {
            return false;
        }
    }
    return true;
}

bool is_date(std::string_view text) {
    return has_digits(text, {0, 1, 2, 3, 5, 6, 8, 9}) && text[4] == '-' && text[7] == '-';
}

}  // namespace

std::string duration_words(Seconds time) {
    const double seconds = time.in<Seconds>();
    if (!std::isfinite(seconds) || seconds < 0.0) {
        return "unknown";
    }
    if (seconds < 10.0) {
        return fmt::format("{:.1f} s", seconds);
    }
    const long long whole = std::llround(seconds);
    const long long hours = whole / 3600;
    const long long minutes = whole / 60 % 60;
    const long long rest = whole % 60;
    if (hours > 0) {
        return minutes > 0 ? fmt::format("{} h {} min", hours, minutes)
                           : fmt::format("{} h", hours);
    }
    if (minutes > 0) {
        return rest > 0 ? fmt::format("{} min {} s", minutes, rest)
                        : fmt::format("{} min", minutes);
    }
    return fmt::format("{} s", rest);
}

std::string clock_text(Seconds time) {
    const double seconds = time.in<Seconds>();
    if (!std::isfinite(seconds) || seconds < 0.0) {
        return "-";
    }
    const auto whole = static_cast<long long>(seconds);
    if (whole >= 3600) {
        return fmt::format("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60);
    }
    return fmt::format("{}:{:02}", whole / 60, whole % 60);
}

std::string stamp_text(std::string_view rfc3339) {
    if (!is_date(rfc3339) || !has_digits(rfc3339, {11, 12, 14, 15}) || rfc3339[10] != 'T') {
        return std::string{rfc3339};
    }
    return fmt::format("{} {}{}", rfc3339.substr(0, 10), rfc3339.substr(11, 5),
                       rfc3339.back() == 'Z' ? " UTC" : "");
}

std::string date_words(std::string_view rfc3339) {
    static constexpr std::array<std::string_view, 12> months{
        "January", "February", "March",     "April",   "May",      "June",
        "July",    "August",   "September", "October", "November", "December"};
    if (!is_date(rfc3339)) {
        return std::string{rfc3339};
    }
    const int month = (rfc3339[5] - '0') * 10 + (rfc3339[6] - '0');
    const int day = (rfc3339[8] - '0') * 10 + (rfc3339[9] - '0');
    if (month < 1 || month > 12) {
        return std::string{rfc3339};
    }
    return fmt::format("{} {} {}", day, months[static_cast<std::size_t>(month - 1)],
                       rfc3339.substr(0, 4));
}

}  // namespace afterload::runner
