#include "runner/papers/number_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <utility>

namespace afterload::runner {

namespace {

constexpr int most_decimals = 12;

bool percent(FigureKind kind) {
    switch (kind) {
        case FigureKind::thd:
        case FigureKind::thd_plus_noise:
        case FigureKind::modulation_distortion:
        case FigureKind::difference_frequency_distortion:
            return true;
        default:
            return false;
    }
}

ShownUnit small_prefix(double guide, std::string_view symbol) {
    const double size = std::abs(guide);
    if (size >= 1.0 || size == 0.0 || !std::isfinite(size)) {
        return {1.0, std::string{symbol}};
    }
    if (size >= 1e-4) {
        return {1e3, fmt::format("m{}", symbol)};
    }
    return {1e6, fmt::format("µ{}", symbol)};
}

ShownUnit large_prefix(double guide, std::string_view symbol) {
    return std::abs(guide) >= 1000.0 && std::isfinite(guide)
               ? ShownUnit{1e-3, fmt::format("k{}", symbol)}
               : ShownUnit{1.0, std::string{symbol}};
}

/// "Onto" leaves room for the last bits that a change of unit costs.
bool onto(double value, double limit) {
    return std::abs(value - limit) <= 1e-9 * std::max(std::abs(value), std::abs(limit));
}

bool misplaced(double value, double written, double limit) {
    if (onto(value, limit)) {
        return false;
    }
    return onto(written, limit) || (value < limit) != (written < limit);
}

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

/// May a unit, or ±, stand beside a number here?
bool joins(std::string_view rest) {
    static constexpr std::array<std::string_view, 26> units{
        "%", "°C", "Ω",  "kΩ", "MΩ", "mΩ",  "Hz", "kHz", "V",   "mV",  "µV",   "W",   "mW",
        "A", "mA", "dB", "s",  "ms", "min", "h",  "J",   "ppm", "dBV", "dBFS", "K/W", "µs"};
    return std::any_of(units.begin(), units.end(), [&](std::string_view unit) {
        if (!rest.starts_with(unit)) {
            return false;
        }
        const char next = rest.size() > unit.size() ? rest[unit.size()] : ' ';
        return !(std::isalnum(static_cast<unsigned char>(next)) != 0 ||
                 static_cast<unsigned char>(next) >= 0x80U);
    });
}

std::string in_threes(std::string_view digits) {
    if (digits.size() < 5) {
        return std::string{digits};
    }
    std::string out;
    for (std::size_t i = 0; i < digits.size(); ++i) {
        if (i > 0 && (digits.size() - i) % 3 == 0) {
            out += narrow_space;
        }
        out += digits[i];
    }
    return out;
}

}  // namespace

ShownUnit shown_unit(FigureKind kind, double guide) {
    if (percent(kind)) {
        return {100.0, "%"};
    }
    switch (unit_of(kind)) {
        case Unit::volt:
            return small_prefix(guide, "V");
        case Unit::ampere:
            return small_prefix(guide, "A");
        case Unit::watt:
            return std::abs(guide) >= 0.1 || guide == 0.0 ? ShownUnit{1.0, "W"}
                                                          : ShownUnit{1e3, "mW"};
        case Unit::hertz:
            return large_prefix(guide, "Hz");
        case Unit::ohm:
            return std::abs(guide) < 0.1 && guide != 0.0 ? ShownUnit{1e3, "mΩ"}
                                                         : large_prefix(guide, "Ω");
        case Unit::decibel:
            return {1.0, "dB"};
        case Unit::celsius:
            return {1.0, "°C"};
        case Unit::second:
            return small_prefix(guide, "s");
        case Unit::per_second:
            return {1.0, "1/s"};
        case Unit::ratio:
            return {1.0, ""};
    }
    return {};
}

std::optional<int> decimals_for(double expanded) {
    if (!std::isfinite(expanded) || expanded <= 0.0) {
        return std::nullopt;
    }
    const auto exponent = static_cast<int>(std::floor(std::log10(expanded)));
    const double first = expanded / std::pow(10.0, exponent);
    return std::min(first < 3.0 ? 1 - exponent : -exponent, most_decimals);
}

int decimals_of(double value, int significant) {
    if (!std::isfinite(value) || value == 0.0) {
        return 0;
    }
    const auto exponent = static_cast<int>(std::floor(std::log10(std::abs(value))));
    return std::clamp(significant - 1 - exponent, 0, most_decimals);
}

std::string fixed(double value, int decimals) {
    if (!std::isfinite(value)) {
        return value > 0 ? "over" : "none";
    }
    if (decimals < 0) {
        const double place = std::pow(10.0, -decimals);
        value = std::round(value / place) * place;
        decimals = 0;
    }
    std::string text = fmt::format("{:.{}f}", value, decimals);
    if (text.front() == '-' && text.find_first_not_of("-0.") == std::string::npos) {
        text.erase(0, 1);
    }
    return text;
}

std::string plain(double value, int significant) {
    std::string text = fixed(value, decimals_of(value, significant));
    if (text.find('.') != std::string::npos) {
        text.erase(text.find_last_not_of('0') + 1);
        if (text.back() == '.') {
            text.pop_back();
        }
    }
    return text;
}

int decimals_clear_of(double value, int decimals, const Limit& limit) {
    for (int tried = decimals; tried < most_decimals; ++tried) {
        const double written = std::strtod(fixed(value, tried).c_str(), nullptr);
        if (!(limit.at_least && misplaced(value, written, *limit.at_least)) &&
            !(limit.at_most && misplaced(value, written, *limit.at_most))) {
            return tried;
        }
    }
    return std::max(decimals, most_decimals);
}

Limit scaled(const Limit& limit, double factor) {
    const auto times = [factor](const std::optional<double>& side) {
        return side ? std::optional{*side * factor} : std::nullopt;
    };
    return {times(limit.at_least), times(limit.at_most), times(limit.nominal)};
}

std::string limit_text(const Limit& shown) {
    if (shown.at_least && shown.at_most) {
        const double low = *shown.at_least;
        const double high = *shown.at_most;
        const double middle = shown.nominal.value_or((low + high) / 2);
        const double half = (high - low) / 2;
        const bool symmetric = std::abs((low + high) / 2 - middle) <= 1e-9 * std::abs(half);
        if (symmetric && std::abs(middle) <= 1e-9 * std::abs(half)) {
            return fmt::format("± {}", plain(half));
        }
        if (symmetric && shown.nominal) {
            return fmt::format("{} ± {}", plain(middle), plain(half));
        }
        return fmt::format("{} to {}", plain(low), plain(high));
    }
    if (shown.at_least) {
        return fmt::format("≥ {}", plain(*shown.at_least));
    }
    if (shown.at_most) {
        return fmt::format("≤ {}", plain(*shown.at_most));
    }
    return shown.nominal ? plain(*shown.nominal) : std::string{};
}

std::string quantity_text(double value, std::string_view symbol, int significant) {
    const double size = std::abs(value);
    const bool scales = symbol == "V" || symbol == "A" || symbol == "W" || symbol == "Hz" ||
                        symbol == "Ω" || symbol == "F";
    double factor = 1.0;
    std::string_view prefix;
    if (scales && size >= 1e6) {
        factor = 1e-6;
        prefix = "M";
    } else if (scales && size >= 1e3) {
        factor = 1e-3;
        prefix = "k";
    } else if (scales && size < 0.1 && size >= 1e-4) {
        factor = 1e3;
        prefix = "m";
    } else if (scales && size < 1e-4 && size > 0.0) {
        factor = 1e6;
        prefix = "µ";
    }
    return fmt::format("{} {}{}", plain(value * factor, significant), prefix, symbol);
}

std::string page(std::string_view text) {
    std::string out;
    bool after_number = false;
    for (std::size_t i = 0; i < text.size();) {
        const std::string_view rest = text.substr(i);
        const bool after_minus = out.ends_with("\u2212");
        const char before = i == 0 || after_minus ? ' ' : text[i - 1];
        if (rest[0] == '-' && rest.size() > 1 && is_digit(rest[1]) &&
            (before == ' ' || before == '(' || i == 0)) {
            out += "\u2212";
            ++i;
        } else if (is_digit(rest[0])) {
            std::size_t length = 0;
            while (length < rest.size() && is_digit(rest[length])) {
                ++length;
            }
            const bool part_of_a_word = std::isalnum(static_cast<unsigned char>(before)) != 0 ||
                                        before == '.' || before == '-' || before == '/' ||
                                        (rest[0] == '0' && length > 1);
            out += part_of_a_word ? std::string{rest.substr(0, length)}
                                  : in_threes(rest.substr(0, length));
            i += length;
            after_number = true;
            continue;
        } else if (rest[0] == ' ' && after_number && joins(rest.substr(1))) {
            out += narrow_space;
            ++i;
        } else if (rest.starts_with(" ± ")) {
            out += fmt::format("{}±{}", narrow_space, narrow_space);
            i += std::string_view{" ± "}.size();
        } else if (rest.starts_with("± ") || rest.starts_with("≥ ") || rest.starts_with("≤ ") ||
                   rest.starts_with("< ") || rest.starts_with("> ")) {
            const std::size_t sign = rest.find(' ');
            out += rest.substr(0, sign);
            out += narrow_space;
            i += sign + 1;
        } else {
            out += rest[0];
            ++i;
        }
        after_number = false;
    }
    return out;
}

std::string how_many(std::size_t count, std::string_view noun) {
    return fmt::format("{} {}{}", count, noun, count == 1 ? "" : "s");
}

std::string capitalised(std::string text) {
    if (!text.empty() && text.front() >= 'a' && text.front() <= 'z') {
        text.front() = static_cast<char>(text.front() - 'a' + 'A');
    }
    return text;
}

}  // namespace afterload::runner
