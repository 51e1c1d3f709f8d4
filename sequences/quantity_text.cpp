#include "sequences/quantity_text.hpp"

#include "analysis/level.hpp"
#include "sequences/diagnostic.hpp"

#include <fmt/format.h>

#include <array>
#include <charconv>
#include <cmath>
#include <optional>
#include <utility>

namespace afterload::sequences {

namespace {

enum class Scale { linear, amplitude_decibels, power_decibels, dbu };

struct UnitEntry {
    Dimension dimension;
    std::string_view symbol;
    double factor;
    Scale scale = Scale::linear;
    bool printed = false;  ///< quantity_text() chooses among these
};

// The first of a dimension is the one to suggest.
constexpr std::array unit_table{
    UnitEntry{Dimension::volts, "V", 1.0, Scale::linear, true},
    UnitEntry{Dimension::volts, "mV", 1e-3, Scale::linear, true},
    UnitEntry{Dimension::volts, "uV", 1e-6, Scale::linear, true},
    UnitEntry{Dimension::volts, "µV", 1e-6},
    UnitEntry{Dimension::volts, "μV", 1e-6},
    UnitEntry{Dimension::volts, "kV", 1e3},
    UnitEntry{Dimension::volts, "V rms", 1.0},
    UnitEntry{Dimension::volts, "mV rms", 1e-3},
    UnitEntry{Dimension::volts, "dBV", 1.0, Scale::amplitude_decibels},
    UnitEntry{Dimension::volts, "dBu", 1.0, Scale::dbu},
    UnitEntry{Dimension::volts_peak, "V peak", 1.0, Scale::linear, true},
    UnitEntry{Dimension::volts_peak, "mV peak", 1e-3, Scale::linear, true},
    UnitEntry{Dimension::volts_peak, "uV peak", 1e-6, Scale::linear, true},
    UnitEntry{Dimension::volts_dc, "V", 1.0, Scale::linear, true},
    UnitEntry{Dimension::volts_dc, "mV", 1e-3, Scale::linear, true},
    UnitEntry{Dimension::volts_dc, "uV", 1e-6, Scale::linear, true},
    UnitEntry{Dimension::ohms, "ohm", 1.0, Scale::linear, true},
    UnitEntry{Dimension::ohms, "mohm", 1e-3, Scale::linear, true},
    UnitEntry{Dimension::ohms, "kohm", 1e3, Scale::linear, true},
    UnitEntry{Dimension::ohms, "Mohm", 1e6, Scale::linear, true},
    UnitEntry{Dimension::ohms, "Ω", 1.0},
    UnitEntry{Dimension::ohms, "Ω", 1.0},
    UnitEntry{Dimension::ohms, "mΩ", 1e-3},
    UnitEntry{Dimension::ohms, "kΩ", 1e3},
    UnitEntry{Dimension::ohms, "MΩ", 1e6},
    UnitEntry{Dimension::watts, "W", 1.0, Scale::linear, true},
    UnitEntry{Dimension::watts, "mW", 1e-3, Scale::linear, true},
    UnitEntry{Dimension::watts, "uW", 1e-6, Scale::linear, true},
    UnitEntry{Dimension::watts, "kW", 1e3, Scale::linear, true},
    UnitEntry{Dimension::watts, "dBW", 1.0, Scale::power_decibels},
    UnitEntry{Dimension::amperes, "A", 1.0, Scale::linear, true},
    UnitEntry{Dimension::amperes, "mA", 1e-3, Scale::linear, true},
    UnitEntry{Dimension::amperes, "uA", 1e-6, Scale::linear, true},
    UnitEntry{Dimension::hertz, "Hz", 1.0, Scale::linear, true},
    UnitEntry{Dimension::hertz, "kHz", 1e3, Scale::linear, true},
    UnitEntry{Dimension::hertz, "MHz", 1e6, Scale::linear, true},
    UnitEntry{Dimension::seconds, "s", 1.0, Scale::linear, true},
    UnitEntry{Dimension::seconds, "ms", 1e-3, Scale::linear, true},
    UnitEntry{Dimension::seconds, "us", 1e-6, Scale::linear, true},
    UnitEntry{Dimension::seconds, "min", 60.0},
    UnitEntry{Dimension::seconds, "h", 3600.0},
    UnitEntry{Dimension::celsius, "degC", 1.0, Scale::linear, true},
    UnitEntry{Dimension::celsius, "°C", 1.0},
    UnitEntry{Dimension::ratio, "%", 1e-2, Scale::linear, true},
    UnitEntry{Dimension::ratio, "ppm", 1e-6, Scale::linear, true},
    UnitEntry{Dimension::ratio, "dB", 1.0, Scale::amplitude_decibels},
    UnitEntry{Dimension::decibels, "dB", 1.0, Scale::linear, true},
    UnitEntry{Dimension::dbfs, "dBFS", 1.0, Scale::linear, true},
    UnitEntry{Dimension::per_kelvin, "ppm/K", 1e-6, Scale::linear, true},
    UnitEntry{Dimension::per_kelvin, "%/K", 1e-2, Scale::linear, true},
    UnitEntry{Dimension::per_second, "1/s", 1.0, Scale::linear, true},
    UnitEntry{Dimension::per_second, "1/min", 1.0 / 60.0},
    UnitEntry{Dimension::per_second, "1/h", 1.0 / 3600.0},
    UnitEntry{Dimension::kelvin_per_minute, "K/min", 1.0, Scale::linear, true},
    UnitEntry{Dimension::kelvin_per_minute, "degC/min", 1.0}};

// Nothing on a bench is larger; what is typed with more is a slip of the hand.
constexpr double largest = 1e9;

std::string_view trimmed(std::string_view text) {
    constexpr std::string_view narrow = "\xe2\x80\xaf";  // U+202F
    constexpr std::string_view hard = "\xc2\xa0";        // U+00A0
    bool again = true;
    while (again) {
        again = false;
        for (const std::string_view space :
             {std::string_view{" "}, std::string_view{"\t"}, narrow, hard}) {
            if (text.starts_with(space)) {
                text.remove_prefix(space.size());
                again = true;
            }
            if (text.ends_with(space)) {
                text.remove_suffix(space.size());
                again = true;
            }
        }
    }
    return text;
}

std::string short_of(std::string_view text) {
    std::string shown = escaped(text.substr(0, 60));
    return text.size() > 60 ? shown + "…" : shown;
}

// A number as far as it goes, and the rest of the text.
struct NumberAndRest {
    double value = 0.0;
    std::string_view digits;
    std::string_view rest;
};

tl::expected<NumberAndRest, TextMistake> read_number(std::string_view whole,
                                                     std::string_view noun) {
    constexpr std::string_view minus = "\xe2\x88\x92";  // U+2212
    std::string_view text = trimmed(whole);
    const auto fault = [&](std::string what, std::string advice) {
        return tl::unexpected(TextMistake{std::move(what), std::move(advice)});
    };
    double sign = 1.0;
    std::string_view unsigned_text = text;
    if (text.starts_with('+') || text.starts_with('-')) {
        sign = text.front() == '-' ? -1.0 : 1.0;
        unsigned_text.remove_prefix(1);
    } else if (text.starts_with(minus)) {
        sign = -1.0;
        unsigned_text.remove_prefix(minus.size());
    }
    const auto is_digit = [](char c) { return c >= '0' && c <= '9'; };
    std::size_t end = 0;
    const auto skip_digits = [&] {
        const std::size_t from = end;
        while (end < unsigned_text.size() && is_digit(unsigned_text[end])) {
            ++end;
        }
        return end - from;
    };
    const std::size_t whole_digits = skip_digits();
    if (whole_digits == 0) {
        return fault(
            fmt::format("“{}” is not a number with a unit: {} is due here", short_of(whole), noun),
            "");
    }
    if (whole_digits > 1 && unsigned_text.front() == '0') {
        return fault(fmt::format("“{}” begins with a zero", short_of(whole)),
                     "write the number without it");
    }
    if (end < unsigned_text.size() && unsigned_text[end] == ',') {
        return fault(fmt::format("“{}” has a comma", short_of(whole)), "write a decimal point");
    }
    if (end + 1 < unsigned_text.size() && unsigned_text[end] == '.' &&
        is_digit(unsigned_text[end + 1])) {
        ++end;
        skip_digits();
    }
    const std::size_t mantissa_end = end;
    if (end < unsigned_text.size() && (unsigned_text[end] == 'e' || unsigned_text[end] == 'E')) {
        ++end;
        if (end < unsigned_text.size() &&
            (unsigned_text[end] == '-' || unsigned_text[end] == '+')) {
            ++end;
        }
        if (skip_digits() == 0) {
            end = mantissa_end;
        }
    }
    NumberAndRest result;
    result.digits = text.substr(0, text.size() - unsigned_text.size() + end);
    const char* const begin = unsigned_text.data();
    const auto [last, error] = std::from_chars(begin, begin + end, result.value);
    if (error != std::errc{} || last != begin + end || !std::isfinite(result.value) || end > 40) {
        return fault(fmt::format("{} is not a number that a bench has", short_of(result.digits)),
                     "");
    }
    result.value *= sign;
    result.rest = trimmed(unsigned_text.substr(end));
    return result;
}

std::optional<UnitEntry> find_unit(std::string_view symbol, Dimension dimension) {
    for (const UnitEntry& unit : unit_table) {
        if (unit.dimension == dimension && unit.symbol == symbol) {
            return unit;
        }
    }
    return std::nullopt;
}

bool known_unit(std::string_view symbol) {
    for (const UnitEntry& unit : unit_table) {
        if (unit.symbol == symbol) {
            return true;
        }
    }
    return false;
}

double in_si(double value, const UnitEntry& unit) {
    switch (unit.scale) {
        case Scale::linear:
            // Division keeps 0.03 % at the double nearest to 0.0003.
            return unit.factor < 1.0 ? value / std::round(1.0 / unit.factor) : value * unit.factor;
        case Scale::amplitude_decibels:
            return amplitude_ratio(Gain{value}).in<AmplitudeRatio>();
        case Scale::power_decibels:
            return power_ratio(Gain{value}).in<PowerRatio>();
        case Scale::dbu:
            return voltage_at(DbU{value}).in<VoltsRms>();
    }
    return value;
}

TextMistake wrong_unit(const NumberAndRest& number, Dimension dimension, std::string_view noun) {
    const std::vector<std::string_view> units = units_of(dimension);
    const std::string unit = short_of(number.rest);
    if (known_unit(number.rest)) {
        return {fmt::format("{} {} is not {} in {}", number.digits, unit, noun, units.front()),
                fmt::format("write it in {}", units.front())};
    }
    TextMistake mistake{fmt::format("“{}” is not a unit that is known here", unit), ""};
    const std::string_view near = nearest(number.rest, units);
    if (!near.empty()) {
        mistake.advice = fmt::format("nearest: {}", near);
        return mistake;
    }
    // Written out, a unit begins with its symbol: 4 hrs, 40 Watt, 3 minutes.
    std::string_view meant;
    for (const std::string_view symbol : units) {
        meant = number.rest.starts_with(symbol) && symbol.size() > meant.size() ? symbol : meant;
    }
    mistake.advice =
        fmt::format("write {} {}", number.digits, meant.empty() ? units.front() : meant);
    return mistake;
}

}  // namespace

std::vector<std::string_view> units_of(Dimension dimension) {
    std::vector<std::string_view> units;
    for (const UnitEntry& unit : unit_table) {
        if (unit.dimension == dimension) {
            units.push_back(unit.symbol);
        }
    }
    return units;
}

tl::expected<double, TextMistake> read_quantity(std::string_view text, Dimension dimension,
                                                std::string_view noun) {
    const auto number = read_number(text, noun);
    if (!number) {
        return tl::unexpected(number.error());
    }
    double value = number->value;
    if (dimension == Dimension::number) {
        if (!number->rest.empty()) {
            return tl::unexpected(TextMistake{
                fmt::format("{} has no unit: “{}” is too much", noun, short_of(number->rest)),
                fmt::format("write {}", number->digits)});
        }
    } else {
        if (number->rest.empty()) {
            const std::string_view unit = units_of(dimension).front();
            return tl::unexpected(TextMistake{
                fmt::format("{} has no unit: is it {} in {}?", number->digits, noun, unit),
                fmt::format("write {} {}", number->digits, unit)});
        }
        const auto unit = find_unit(number->rest, dimension);
        if (!unit) {
            return tl::unexpected(wrong_unit(*number, dimension, noun));
        }
        value = in_si(value, *unit);
    }
    if (!std::isfinite(value) || std::abs(value) > largest) {
        return tl::unexpected(
            TextMistake{fmt::format("{} is more than a bench has", short_of(trimmed(text))), ""});
    }
    return value;
}

namespace {

// The unit that leaves 1 to 1000 before the point; the smallest or the largest where none does.
const UnitEntry& unit_to_print(double value, Dimension dimension) {
    constexpr double least_percent = 1e-5;  // 0.001 %; below it a ratio reads better in ppm
    const double size = std::abs(value);
    const UnitEntry* smallest = nullptr;
    const UnitEntry* biggest = nullptr;
    for (const UnitEntry& unit : unit_table) {
        if (unit.dimension != dimension || !unit.printed) {
            continue;
        }
        const bool ratio_in_percent =
            dimension == Dimension::ratio && unit.factor > least_percent && size >= least_percent;
        if (size == 0.0 || ratio_in_percent ||
            (size / unit.factor >= 1.0 && size / unit.factor < 1000.0)) {
            return unit;
        }
        smallest = smallest == nullptr || unit.factor < smallest->factor ? &unit : smallest;
        biggest = biggest == nullptr || unit.factor > biggest->factor ? &unit : biggest;
    }
    return size / smallest->factor < 1.0 ? *smallest : *biggest;
}

}  // namespace

std::string quantity_text(double value, Dimension dimension) {
    if (dimension == Dimension::number) {
        return fmt::format("{}", value);
    }
    const UnitEntry& chosen = unit_to_print(value, dimension);
    // The fewest digits that read back to the very same number.
    constexpr int least_digits = 3;
    constexpr int most_digits = 17;
    const double shown = value / chosen.factor;
    for (int digits = least_digits; digits <= most_digits; ++digits) {
        const std::string number = fmt::format("{:.{}g}", shown, digits);
        double back = 0.0;
        std::from_chars(number.data(), number.data() + number.size(), back);
        if (in_si(back, chosen) == value) {
            return fmt::format("{} {}", number, chosen.symbol);
        }
    }
    // A scaled number may have no double that scales back; the first unit has a factor of one or
    // the neighbours differ by less than anything measured.
    const double neighbour_below = std::nextafter(shown, -INFINITY);
    const double neighbour_above = std::nextafter(shown, INFINITY);
    for (const double near : {neighbour_below, neighbour_above}) {
        if (in_si(near, chosen) == value) {
            return fmt::format("{:.17g} {}", near, chosen.symbol);
        }
    }
    return fmt::format("{:.17g} {}", shown, chosen.symbol);
}

tl::expected<Span, TextMistake> read_span(std::string_view text, Dimension dimension,
                                          std::string_view noun) {
    const std::size_t dots = text.find("..");
    if (dots == std::string_view::npos) {
        const std::string unit =
            dimension == Dimension::number ? "" : fmt::format(" {}", units_of(dimension).front());
        return tl::unexpected(TextMistake{
            fmt::format("“{}” is not {} from one value to another", short_of(text), noun),
            fmt::format("write it as 1{}..2{}", unit, unit)});
    }
    const auto low = read_quantity(text.substr(0, dots), dimension, noun);
    if (!low) {
        return tl::unexpected(low.error());
    }
    const auto high = read_quantity(text.substr(dots + 2), dimension, noun);
    if (!high) {
        return tl::unexpected(high.error());
    }
    if (*low >= *high) {
        return tl::unexpected(TextMistake{
            fmt::format("“{}” is empty: the lower value stands first", short_of(text)), ""});
    }
    return Span{*low, *high};
}

tl::expected<Band, TextMistake> read_band(std::string_view text, std::string_view noun) {
    const auto span = read_span(text, Dimension::hertz, noun);
    if (!span) {
        return tl::unexpected(span.error());
    }
    if (span->low < 0.0) {
        return tl::unexpected(TextMistake{"a band begins at 0 Hz or above", ""});
    }
    return Band{Hertz{span->low}, Hertz{span->high}};
}

std::string band_text(Band band) {
    return fmt::format("{}..{}", quantity_text(band.low.in<Hertz>(), Dimension::hertz),
                       quantity_text(band.high.in<Hertz>(), Dimension::hertz));
}

namespace {

// "rated", "1/8 rated", "rated - 3 dB"; nothing when the text does not speak of the rated power.
std::optional<tl::expected<double, TextMistake>> read_rated_fraction(std::string_view text,
                                                                     std::string_view noun) {
    constexpr std::string_view word = "rated";
    const std::size_t at = text.find(word);
    if (at == std::string_view::npos) {
        return std::nullopt;
    }
    const auto fault = [&](std::string advice) {
        return tl::unexpected(
            TextMistake{fmt::format("“{}” is not {}", short_of(text), noun), std::move(advice)});
    };
    const std::string_view before = trimmed(text.substr(0, at));
    std::string_view after = trimmed(text.substr(at + word.size()));
    if (!before.empty() && !after.empty()) {
        return fault("write rated, 1/8 rated or rated - 3 dB");
    }
    if (!before.empty()) {
        const std::size_t slash = before.find('/');
        const auto above = read_number(before.substr(0, slash), noun);
        if (!above) {
            return tl::unexpected(above.error());
        }
        double fraction = above->value;
        std::string_view left = above->rest;
        if (slash != std::string_view::npos) {
            const auto below = read_number(before.substr(slash + 1), noun);
            if (!below) {
                return tl::unexpected(below.error());
            }
            if (below->value <= 0.0 || !left.empty()) {
                return fault("write a fraction as 1/8 rated");
            }
            fraction /= below->value;
            left = below->rest;
        }
        if (!left.empty()) {
            return fault("write a fraction as 1/8 rated");
        }
        return fraction;
    }
    if (after.empty()) {
        return 1.0;
    }
    constexpr std::string_view minus = "\xe2\x88\x92";
    double sign = 1.0;
    if (after.starts_with('-') || after.starts_with('+')) {
        sign = after.front() == '-' ? -1.0 : 1.0;
        after = trimmed(after.substr(1));
    } else if (after.starts_with(minus)) {
        sign = -1.0;
        after = trimmed(after.substr(minus.size()));
    } else {
        return fault("write rated - 3 dB");
    }
    const auto decibels =
        read_quantity(after, Dimension::decibels, "a distance from the rated power");
    if (!decibels) {
        return tl::unexpected(decibels.error());
    }
    return power_ratio(Gain{sign * *decibels}).in<PowerRatio>();
}

}  // namespace

tl::expected<LevelTarget, TextMistake> read_level(std::string_view text, LevelUse use,
                                                  std::string_view noun) {
    constexpr double most_over_rated = 4.0;  // 6 dB
    text = trimmed(text);
    if (const auto fraction = read_rated_fraction(text, noun)) {
        if (!*fraction) {
            return tl::unexpected(fraction->error());
        }
        if (!(**fraction > 0.0) || **fraction > most_over_rated) {
            return tl::unexpected(TextMistake{
                fmt::format("“{}” is no level: above nothing and at most 6 dB over rated",
                            short_of(text)),
                ""});
        }
        return LevelTarget{LevelTarget::Kind::rated_fraction, **fraction};
    }
    const auto number = read_number(text, noun);
    if (!number) {
        return tl::unexpected(
            TextMistake{fmt::format("“{}” is not {}", short_of(text), noun),
                        "write it as 1 W, 0.5 V, -20 dBFS, rated, 1/8 rated or rated - 3 dB"});
    }
    std::string_view unit = number->rest;
    LevelTarget level;
    if (unit.empty()) {
        return tl::unexpected(
            TextMistake{fmt::format("{} has no unit: is it {} in W?", number->digits, noun),
                        fmt::format("write {} W", number->digits)});
    }
    bool at_input = use == LevelUse::step;
    if (use == LevelUse::rating && unit.ends_with(" in")) {
        at_input = true;
        unit = trimmed(unit.substr(0, unit.size() - 3));
    }
    if (const auto volts = find_unit(unit, Dimension::volts)) {
        level.kind = at_input ? LevelTarget::Kind::drive_volts : LevelTarget::Kind::output_volts;
        level.value = in_si(number->value, *volts);
    } else if (const auto watts = find_unit(unit, Dimension::watts)) {
        level.kind = LevelTarget::Kind::output_power;
        level.value = in_si(number->value, *watts);
    } else if (find_unit(unit, Dimension::dbfs)) {
        if (number->value > 0.0 || number->value < -200.0) {
            return tl::unexpected(TextMistake{
                fmt::format("{} dBFS is no drive: -200 to 0 dBFS", number->digits), ""});
        }
        return LevelTarget{LevelTarget::Kind::drive_dbfs, number->value};
    } else {
        const std::vector<std::string_view> units{"W",  "mW",  "dBW", "V",   "mV",
                                                  "uV", "dBV", "dBu", "dBFS"};
        const std::string_view near = nearest(unit, units);
        return tl::unexpected(TextMistake{
            fmt::format("“{}” is not a unit that is known here", short_of(unit)),
            near.empty() ? "write it in W, V or dBFS" : fmt::format("nearest: {}", near)});
    }
    constexpr double most_watts_or_volts = 1e5;
    if (!(level.value > 0.0) || level.value > most_watts_or_volts) {
        return tl::unexpected(
            TextMistake{fmt::format("“{}” is no level that a bench has", short_of(text)), ""});
    }
    return level;
}

Dimension dimension_of(FigureKind figure) {
    switch (figure) {
        case FigureKind::dc_offset:
        case FigureKind::supply_rail:
            return Dimension::volts_dc;
        case FigureKind::damping_factor:
        case FigureKind::polarity:
        case FigureKind::channel_identity:
            return Dimension::number;
        default:
            break;
    }
    switch (unit_of(figure)) {
        case Unit::volt:
            return Dimension::volts;
        case Unit::watt:
            return Dimension::watts;
        case Unit::hertz:
            return Dimension::hertz;
        case Unit::ratio:
            return Dimension::ratio;
        case Unit::decibel:
            return Dimension::decibels;
        case Unit::ohm:
            return Dimension::ohms;
        case Unit::ampere:
            return Dimension::amperes;
        case Unit::celsius:
            return Dimension::celsius;
        case Unit::second:
            return Dimension::seconds;
        case Unit::per_second:
            return Dimension::per_second;
    }
    return Dimension::number;
}

tl::expected<long long, TextMistake> read_integer(std::string_view text, std::string_view noun) {
    text = trimmed(text);
    long long value = 0;
    const auto [last, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    const bool whole = error == std::errc{} && last == text.data() + text.size();
    const std::string_view digits = text.starts_with('-') ? text.substr(1) : text;
    const bool leading_zero = digits.size() > 1 && digits.front() == '0';
    if (!whole || leading_zero) {
        return tl::unexpected(
            TextMistake{fmt::format("“{}” is not {}: a whole number", short_of(text), noun), ""});
    }
    return value;
}

}  // namespace afterload::sequences
