#include "runner/papers/figures_csv.hpp"

#include "runner/papers/figure_rows.hpp"
#include "runner/papers/figure_words.hpp"
#include "runner/papers/utf8_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <cmath>
#include <optional>
#include <vector>

namespace afterload::runner {

namespace {

std::string cell(double value) {
    return std::isfinite(value) ? fmt::format("{}", value) : "";
}

std::string cell(const std::optional<double>& value) {
    return value ? cell(*value) : std::string{};
}

std::string conditions_text(const Conditions& conditions) {
    std::vector<std::string> parts;
    for (const std::string_view key : condition_keys()) {
        if (std::string part = condition_words(conditions, key); !part.empty()) {
            parts.push_back(std::move(part));
        }
    }
    return fmt::format("{}", fmt::join(parts, "; "));
}

std::string row_text(const StepResult& step, const ScoredFigure& entry) {
    const Figure& figure = entry.figure;
    const bool judged = entry.verdict.has_value();
    const RatedFigure* rating = entry.rating ? &*entry.rating : nullptr;
    const std::vector<std::string> cells{
        csv_text(entry.id),
        csv_text(step.name),
        csv_text(step.group),
        csv_text(entry.label),
        csv_text(name(figure.kind)),
        csv_text(channel_words(figure)),
        cell(figure.value),
        figure.bound ? cell(figure.bound->value) : std::string{},
        figure.bound ? std::string{name(figure.bound->side)} : std::string{},
        csv_text(symbol(unit_of(figure.kind))),
        figure.budget.empty() ? std::string{} : cell(combined(figure.budget)),
        figure.budget.empty() ? std::string{} : cell(expanded(figure.budget)),
        cell(figure.rig_added),
        cell(figure.rig_cancelled),
        rating != nullptr ? cell(rating->limit.at_least) : std::string{},
        rating != nullptr ? cell(rating->limit.at_most) : std::string{},
        rating != nullptr ? csv_text(rating->source) : std::string{},
        judged ? csv_text(analysis::name(entry.verdict->kind)) : std::string{},
        judged ? cell(entry.verdict->margin) : std::string{},
        judged ? csv_text(entry.verdict->reason) : csv_text(figure.unresolved),
        csv_text(fmt::format("{}", fmt::join(figure.assumed, "; "))),
        csv_text(conditions_text(figure.conditions))};
    return fmt::format("{}\r\n", fmt::join(cells, ","));
}

}  // namespace

std::string csv_text(std::string_view text) {
    std::string cell;
    if (!text.empty() &&
        std::string_view{"=+-@\t\r"}.find(text.front()) != std::string_view::npos) {
        cell += '\'';
    }
    // What would move a terminal or turn the writing round is no part of a table's text; a line
    // break is, in quotes.
    for (std::size_t i = 0; i < text.size();) {
        const Utf8Character next = next_character(text.substr(i));
        const bool kept = next.valid && (!is_control(next.code) || next.code == U'\n' ||
                                         next.code == U'\r' || next.code == U'\t');
        cell += kept ? text.substr(i, next.bytes) : std::string_view{"\uFFFD"};
        i += next.bytes;
    }
    if (cell.find_first_of(",\"\r\n") == std::string::npos) {
        return cell;
    }
    std::string quoted = "\"";
    for (const char c : cell) {
        quoted += c;
        if (c == '"') {
            quoted += '"';
        }
    }
    return quoted + '"';
}

std::string figures_csv(const RunDocument& run) {
    std::string out =
        "id,step,group,label,figure,channel,value_si,bound_si,bound_is,unit,u_k1,u_k2,rig_added,"
        "rig_cancelled,limit_at_least,limit_at_most,limit_origin,verdict,margin,reason,assumed,"
        "conditions\r\n";
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& entry : step.figures) {
            out += row_text(step, entry);
        }
    }
    return out;
}

}  // namespace afterload::runner
