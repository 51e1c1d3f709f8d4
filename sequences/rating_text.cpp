#include "sequences/rating_text.hpp"

#include "sequences/quantity_text.hpp"
#include "sequences/yaml_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace afterload::sequences {
namespace {

/// Ten digits: what arithmetic leaves behind them was never printed.
std::string quantity_or_number(double value, Dimension dimension) {
    const std::string exact = quantity_text(value, dimension);
    const std::size_t blank = std::min(exact.find(' '), exact.size());
    return fmt::format("{:.10g}{}", std::stod(exact.substr(0, blank)), exact.substr(blank));
}

/// The tolerance on either side of a nominal value; nothing where the two sides differ.
std::optional<double> even_tolerance(const Limit& limit) {
    if (!limit.nominal || !limit.at_least || !limit.at_most) {
        return std::nullopt;
    }
    const double up = *limit.at_most - *limit.nominal;
    const double down = *limit.nominal - *limit.at_least;
    return std::abs(up - down) < 1e-6 * (up + down) ? std::optional{(up + down) / 2.0}
                                                    : std::nullopt;
}

std::string words_list(const std::vector<std::string>& words) {
    std::string out = "[";
    for (const std::string& word : words) {
        out += (out.size() > 1 ? ", " : "") + yaml_value(word);
    }
    return out + "]";
}

std::string limit_lines(const Limit& limit, Dimension dimension) {
    const auto line = [&](std::string_view key, double value) {
        return fmt::format("    {}: {}\n", key, quantity_or_number(value, dimension));
    };
    if (const auto tolerance = even_tolerance(limit)) {
        return line("nominal", *limit.nominal) + line("tolerance", *tolerance);
    }
    if (limit.at_least && limit.at_most) {
        return fmt::format("    between: {}..{}\n", quantity_or_number(*limit.at_least, dimension),
                           quantity_or_number(*limit.at_most, dimension));
    }
    return limit.at_least  ? line("at_least", *limit.at_least)
           : limit.at_most ? line("at_most", *limit.at_most)
                           : std::string{};
}

template <class Q, class Unit = Q>
std::string quantity_of(const std::optional<Q>& value, Dimension dimension) {
    return value ? quantity_or_number(value->template in<Unit>(), dimension) : std::string{};
}

/// As it is said: 20 min, 1 h, 45 s.
std::string time_of(const std::optional<Seconds>& time) {
    const double seconds = time ? time->in<Seconds>() : 0.0;
    for (const auto& [length, unit] : {std::pair{3600.0, "h"}, std::pair{60.0, "min"}}) {
        if (seconds >= length && std::fmod(seconds, length) == 0.0) {
            return fmt::format("{:g} {}", seconds / length, unit);
        }
    }
    return quantity_of(time, Dimension::seconds);
}

std::string word_of(const std::optional<std::string>& word) {
    return word ? yaml_value(*word) : std::string{};
}

}  // namespace

std::string condition_value(const Conditions& c, std::string_view key) {
    const auto is = [key](std::string_view name) { return key == name; };
    if (is("load")) {
        return quantity_of(c.load, Dimension::ohms);
    }
    if (is("channels_driven") && c.channels_driven) {
        return std::string{name(*c.channels_driven)};
    }
    if (is("output_level") && c.output_level) {
        return reference_text(*c.output_level);
    }
    if (is("frequency")) {
        return quantity_of(c.frequency, Dimension::hertz);
    }
    if (is("tone_range") && c.tone_range) {
        return band_text(*c.tone_range);
    }
    if (is("bandwidth") && c.bandwidth) {
        return band_text(*c.bandwidth);
    }
    if (is("weighting") && c.weighting) {
        return std::string{name(*c.weighting)};
    }
    if (is("detector") && c.detector) {
        return std::string{name(*c.detector)};
    }
    if (is("reference_level") && c.reference_level) {
        return reference_text(*c.reference_level);
    }
    if (is("reference_frequency")) {
        return quantity_of(c.reference_frequency, Dimension::hertz);
    }
    if (is("highest_order") && c.highest_order) {
        return fmt::format("{}", *c.highest_order);
    }
    if (is("thd") && c.thd) {
        return quantity_or_number(*c.thd, Dimension::ratio);
    }
    if (is("fall") && c.fall) {
        return quantity_text(c.fall->decibels(), Dimension::decibels);
    }
    if (is("source_impedance")) {
        return quantity_of(c.source_impedance, Dimension::ohms);
    }
    if (is("mains_voltage") && c.mains_voltage) {
        return quantity_or_number(*c.mains_voltage, Dimension::volts);
    }
    if (is("warm_up")) {
        return time_of(c.warm_up);
    }
    if (is("ambient")) {
        return quantity_of(c.ambient, Dimension::celsius);
    }
    if (is("dwell")) {
        return time_of(c.dwell);
    }
    return is("input")             ? word_of(c.input)
           : is("output")          ? word_of(c.output)
           : is("path")            ? word_of(c.path)
           : is("termination")     ? word_of(c.termination)
           : is("volume")          ? word_of(c.volume)
           : is("tone_controls")   ? word_of(c.tone_controls)
           : is("curve")           ? c.curve.value_or("")
           : is("preconditioning") ? word_of(c.preconditioning)
           : is("signal")          ? word_of(c.signal)
                                   : std::string{};
}

std::string unit_text(const UnitDescription& unit) {
    std::string out;
    const auto line = [&out](std::string_view key, const std::string& value) {
        out += fmt::format("  {}: {}\n", key, value);
    };
    if (!unit.maker.empty()) {
        line("maker", yaml_value(unit.maker));
    }
    if (!unit.model.empty()) {
        line("model", yaml_value(unit.model));
    }
    line("channels", fmt::format("{}", unit.channels));
    if (!unit.inputs.empty()) {
        line("inputs", words_list(unit.inputs));
    }
    if (!unit.outputs.empty()) {
        line("outputs", words_list(unit.outputs));
    }
    line("output_terminals", unit.bridged ? "bridged" : "common");
    if (unit.output_transformer) {
        line("output_transformer", "true");
    }
    if (unit.mains_voltage) {
        line("mains_voltage", quantity_or_number(*unit.mains_voltage, Dimension::volts));
    }
    if (unit.mains_frequency) {
        line("mains_frequency", quantity_of(unit.mains_frequency, Dimension::hertz));
    }
    return out;
}

std::string rating_text(const RatingEntry& entry) {
    std::string out;
    for (const std::string& comment : entry.comments) {
        out += yaml_comment(comment, 2);
    }
    const RatedFigure& rated = entry.rated;
    out += fmt::format("  - id: {}\n    figure: {}\n", rated.id, name(rated.figure));
    out += limit_lines(rated.limit, dimension_of(rated.figure));
    out += fmt::format("    source: {}\n", yaml_value(rated.source));
    for (const std::string_view key : condition_keys()) {
        if (const std::string value = condition_value(rated.conditions, key); !value.empty()) {
            out += fmt::format("    {}: {}\n", key, value);
        }
    }
    return out;
}

std::string limit_words(const Limit& limit, FigureKind kind) {
    const Dimension dimension = dimension_of(kind);
    const auto said = [&](double value) { return quantity_or_number(value, dimension); };
    if (const auto tolerance = even_tolerance(limit)) {
        return fmt::format("{} ± {}", said(*limit.nominal), said(*tolerance));
    }
    if (limit.at_least && limit.at_most) {
        return fmt::format("{} to {}", said(*limit.at_least), said(*limit.at_most));
    }
    return limit.at_least  ? "at least " + said(*limit.at_least)
           : limit.at_most ? "at most " + said(*limit.at_most)
           : limit.nominal ? said(*limit.nominal)
                           : std::string{};
}

}  // namespace afterload::sequences
