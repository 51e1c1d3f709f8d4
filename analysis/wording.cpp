#include "analysis/wording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace afterload::analysis {

namespace {

bool in_percent(FigureKind kind) {
    switch (kind) {
        case FigureKind::thd:
        case FigureKind::thd_plus_noise:
        case FigureKind::harmonic:
        case FigureKind::modulation_distortion:
        case FigureKind::difference_frequency_distortion:
        case FigureKind::clipping_symmetry:
            return true;
        default:
            return false;
    }
}

std::string plain(double value, int digits) {
    const double magnitude = std::abs(value);
    if (magnitude == 0.0 || !std::isfinite(value)) {
        return fmt::format("{:g}", value);
    }
    const int leading = static_cast<int>(std::floor(std::log10(magnitude)));
    if (leading >= digits) {
        return fmt::format("{:.0f}", value);
    }
    // General notation would turn to powers of ten below 1e-4, which nobody reads at a bench.
    std::string text = fmt::format("{:.{}f}", value, digits - 1 - leading);
    if (text.find('.') != std::string::npos) {
        text.erase(text.find_last_not_of('0') + 1);
        if (text.back() == '.') {
            text.pop_back();
        }
    }
    return text;
}

std::string with_prefix(double value, std::string_view unit, int digits) {
    const double magnitude = std::abs(value);
    if (magnitude == 0.0 || magnitude >= 0.1) {
        return fmt::format("{} {}", plain(value, digits), unit);
    }
    if (magnitude >= 1e-4) {
        return fmt::format("{} m{}", plain(1e3 * value, digits), unit);
    }
    return fmt::format("{} u{}", plain(1e6 * value, digits), unit);
}

}  // namespace

std::string in_words(double value, FigureKind kind, int digits) {
    if (in_percent(kind)) {
        return plain(100.0 * value, digits) + " %";
    }
    const Unit unit = unit_of(kind);
    switch (unit) {
        case Unit::ratio:
            return plain(value, digits);
        case Unit::volt:
        case Unit::watt:
        case Unit::ampere:
        case Unit::ohm:
            return with_prefix(value, symbol(unit), digits);
        case Unit::hertz:
            return std::abs(value) >= 1000.0 ? plain(value / 1000.0, digits) + " kHz"
                                             : plain(value, digits) + " Hz";
        case Unit::decibel:
        case Unit::celsius:
        case Unit::second:
        case Unit::per_second:
            break;
    }
    return fmt::format("{} {}", plain(value, digits), symbol(unit));
}

std::string_view rig_word(FigureKind kind) {
    switch (kind) {
        case FigureKind::thd:
        case FigureKind::harmonic:
        case FigureKind::modulation_distortion:
        case FigureKind::difference_frequency_distortion:
            return "distortion";
        case FigureKind::thd_plus_noise:
        case FigureKind::sinad:
            return "distortion and noise";
        case FigureKind::noise_voltage:
        case FigureKind::signal_to_noise:
            return "noise";
        case FigureKind::hum_voltage:
            return "hum";
        case FigureKind::channel_separation:
            return "leak between channels";
        default:
            return "part";
    }
}

std::string_view rig_cure(FigureKind kind) {
    switch (kind) {
        case FigureKind::thd:
        case FigureKind::harmonic:
        case FigureKind::modulation_distortion:
        case FigureKind::difference_frequency_distortion:
            return "a cleaner source and input would settle it";
        case FigureKind::thd_plus_noise:
        case FigureKind::sinad:
            return "a cleaner source, a quieter input or a lower range would settle it";
        case FigureKind::noise_voltage:
        case FigureKind::signal_to_noise:
            return "a quieter input or a lower range would settle it";
        case FigureKind::hum_voltage:
            return "finding the ground loop or the field the leads pick up would settle it";
        case FigureKind::channel_separation:
            return "sense leads kept apart, or one channel at a time, would settle it";
        default:
            return "a better rig would settle it";
    }
}

std::string largest_line(const Budget& budget) {
    const auto largest = std::ranges::max_element(
        budget, [](const BudgetLine& a, const BudgetLine& b) { return a.u_k1 < b.u_k1; });
    if (largest == budget.end()) {
        return "";
    }
    const std::string_view cure = largest->kind == BudgetLine::Kind::noise
                                      ? "a longer record would narrow it"
                                      : "a better calibration of it would narrow it";
    const std::string_view size = budget.size() > 1 ? "the larger part is" : "it comes from";
    return fmt::format("{} {}; {}", size, largest->source, cure);
}

std::string spoken(std::string_view key) {
    std::string words{key};
    std::ranges::replace(words, '_', ' ');
    return words;
}

}  // namespace afterload::analysis
