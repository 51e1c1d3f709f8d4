#include "runner/compare/written_change.hpp"

#include "runner/papers/number_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string_view>

namespace afterload::runner {

using analysis::ChangeKind;
using analysis::Difference;
using analysis::Sense;

namespace {

std::optional<double> number_of(const ScoredFigure& entry,
                                const std::optional<double>& at_worst_point) {
    if (at_worst_point) {
        return at_worst_point;
    }
    return entry.figure.value;
}

std::string reading_text(const ScoredFigure& entry, const std::optional<double>& at_worst_point,
                         double factor, int decimals) {
    if (const auto value = number_of(entry, at_worst_point)) {
        return fixed(*value * factor, decimals);
    }
    if (!entry.figure.bound) {
        return "none";
    }
    const double value = entry.figure.bound->value * factor;
    const bool most = entry.figure.bound->side == Bound::Side::at_most;
    // A bound stays true: at_most rounded up, at_least rounded down.
    const int places = decimals_of(value, 2);
    const double scale = std::pow(10.0, places);
    const double kept = most ? std::ceil(value * scale - 1e-6) : std::floor(value * scale + 1e-6);
    return fmt::format("{}{}", most ? "<" : ">", fixed(kept / scale, places));
}

/// Of a small reading beside a large one, as far as its own uncertainty goes.
int at_least_two_digits(const ScoredFigure& entry, double factor, int decimals) {
    const double value = entry.figure.value.value_or(0.0) * factor;
    const auto own = decimals_for(expanded(entry.figure.budget) * factor);
    return std::max(decimals, std::min(own.value_or(decimals), decimals_of(value, 2)));
}

std::string signed_text(double value, int decimals) {
    std::string text = fixed(value, decimals);
    const bool nothing = text.find_first_of("123456789") == std::string::npos;
    return value > 0.0 && !nothing ? "+" + text : text;
}

std::string change_text(const Difference& difference, double factor, int decimals) {
    if (difference.value) {
        return signed_text(*difference.value * factor, decimals);
    }
    if (difference.bound) {
        // Written shorter than it is, so that it stays true.
        const double value = difference.bound->value * factor;
        const int places = decimals_of(value, 2);
        const double scale = std::pow(10.0, places);
        return fmt::format("{}{}", difference.bound->side == Bound::Side::at_most ? "<" : ">",
                           signed_text(std::trunc(value * scale) / scale, places));
    }
    return {};
}

double guide_of(const ComparedRow& row) {
    for (const ComparedFigure* figure : row.figures()) {
        if (figure->after->rating) {
            const Limit& limit = figure->after->rating->limit;
            for (const auto& side : {limit.at_most, limit.at_least, limit.nominal}) {
                if (side && *side != 0.0) {
                    return *side;
                }
            }
        }
    }
    double guide = 0.0;
    for (const ComparedFigure* figure : row.figures()) {
        for (const ScoredFigure* entry : {figure->before, figure->after}) {
            const auto& bound = entry->figure.bound;
            const double value = entry->figure.value ? *entry->figure.value
                                 : bound             ? bound->value
                                                     : 0.0;
            guide = std::max(guide, std::abs(value));
        }
    }
    return guide;
}

}  // namespace

std::string change_word(const Difference& difference) {
    if (difference.kind == ChangeKind::changed && difference.sense != Sense::none) {
        return std::string{analysis::name(difference.sense)};
    }
    if (difference.kind == ChangeKind::conditional && difference.sense != Sense::none) {
        return fmt::format("perhaps {}", analysis::name(difference.sense));
    }
    return std::string{analysis::in_words(difference.kind)};
}

std::string change_word(const ComparedRow& row) {
    static constexpr std::array<std::string_view, 7> first{
        "worse",          "better",    "changed",       "perhaps worse",
        "perhaps better", "no change", "not resolvable"};
    for (const std::string_view word : first) {
        for (const ComparedFigure* figure : row.figures()) {
            if (change_word(figure->difference) == word) {
                return std::string{word};
            }
        }
    }
    return {};
}

std::string before_text(const ComparedFigure& figure, double factor) {
    const Figure& was = figure.before->figure;
    // A curve's own worst point, where it was scored; else the point that is compared.
    const auto& point = was.value ? was.value : figure.difference.before;
    const int decimals = decimals_for(expanded(was.budget) * factor)
                             .value_or(decimals_of(point.value_or(0.0) * factor, 3));
    return reading_text(*figure.before, point, factor, decimals);
}

WrittenComparison written(const ComparedRow& row) {
    const ShownUnit unit = shown_unit(row.kind, guide_of(row));
    // The side that is known better gives the decimals of both.
    std::optional<int> decimals;
    for (const ComparedFigure* figure : row.figures()) {
        const auto own = decimals_for(figure->difference.expanded * unit.factor);
        decimals = decimals && own ? std::max(*decimals, *own) : own ? own : decimals;
    }
    const auto written_side = [&](const std::optional<ComparedFigure>& figure) {
        WrittenChange out;
        if (!figure) {
            return out;
        }
        const Difference& difference = figure->difference;
        int places = decimals.value_or(0);
        if (!decimals) {
            for (const ScoredFigure* entry : {figure->before, figure->after}) {
                const double value = entry->figure.value.value_or(0.0) * unit.factor;
                const double u = expanded(entry->figure.budget) * unit.factor;
                places = std::max(places, decimals_for(u).value_or(decimals_of(value, 3)));
            }
        }
        out.before = reading_text(*figure->before, difference.before, unit.factor,
                                  at_least_two_digits(*figure->before, unit.factor, places));
        out.after = reading_text(*figure->after, difference.after, unit.factor,
                                 at_least_two_digits(*figure->after, unit.factor, places));
        out.change = change_text(difference, unit.factor, places);
        if (difference.value && decimals) {
            out.expanded = fixed(difference.expanded * unit.factor, *decimals);
        }
        return out;
    };
    return {unit.symbol, written_side(row.left), written_side(row.right)};
}

}  // namespace afterload::runner
