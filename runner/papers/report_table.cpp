#include "runner/papers/report_table.hpp"

#include "runner/papers/figure_words.hpp"
#include "runner/papers/number_text.hpp"
#include "runner/papers/report_scale.hpp"
#include "runner/papers/utf8_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <string>

namespace afterload::runner {

namespace {

using analysis::VerdictKind;

constexpr std::size_t longest_label = 80;
constexpr std::size_t longest_reason = 600;

const char* class_of(const FigureRow& row) {
    if (!row.verdict) {
        return "verdict unscored";
    }
    switch (*row.verdict) {
        case VerdictKind::pass:
            return "verdict";
        case VerdictKind::conditional_pass:
        case VerdictKind::conditional_fail:
            return "verdict strong";
        case VerdictKind::fail:
            return "verdict fail";
        case VerdictKind::not_resolvable:
        case VerdictKind::not_comparable:
            return "verdict open";
    }
    return "verdict";
}

/// Conditions that the label does not say already.
std::string conditions_of(const FigureRow& row) {
    const auto figures = row.figures();
    if (figures.empty()) {
        return {};
    }
    std::string text = figure_conditions(figures.front()->figure);
    std::vector<std::string> parts;
    for (std::size_t start = 0; start < text.size();) {
        const std::size_t end = std::min(text.find(", ", start), text.size());
        std::string part = text.substr(start, end - start);
        if (row.label.find(part) == std::string::npos) {
            parts.push_back(std::move(part));
        }
        start = end + 2;
    }
    return fmt::format("{}", fmt::join(parts, ", "));
}

std::string assumed_of(const FigureRow& row) {
    const std::string assumed = assumed_words(row);
    return assumed.empty() ? assumed
                           : fmt::format("Assumed, the sheet does not state it: {}.", assumed);
}

std::string uncertainty_text(const FigureRow& row, const WrittenRow& numbers) {
    const std::string unit =
        numbers.unit.symbol.empty() ? std::string{} : " " + numbers.unit.symbol;
    if (numbers.expanded.empty()) {
        return page(fmt::format("0{}", unit)).substr(1);
    }
    if (!numbers.expanded_right.empty() && row.right != nullptr) {
        return page(
            fmt::format("± {} and {}{}", numbers.expanded_left, numbers.expanded_right, unit));
    }
    return page(fmt::format("± {}{}", numbers.expanded, unit));
}

void put_small(Html& html, std::string_view text) {
    if (!text.empty()) {
        html.element("small", {}, text);
    }
}

/// A value with a word before it, which is shown where the column heads are not.
void put_value(Html& html, const char* side, const std::string& value, bool single) {
    html.open("td", {{"role", "cell"}, {"class", std::string{"number "} + side}});
    if (!value.empty()) {
        html.element("span", {{"class", "narrow-only"}}, single ? "" : std::string{side} + " ");
        html.text(page(value));
    }
    html.close();
}

void put_limit(Html& html, const FigureRow& row, const WrittenRow& numbers) {
    html.open("td", {{"role", "cell"}, {"class", "limit-cell"}});
    const RatedFigure* rating = row.rating();
    if (rating == nullptr) {
        html.text("not rated");
    } else {
        const std::string unit =
            numbers.unit.symbol.empty() ? std::string{} : " " + numbers.unit.symbol;
        html.text(page(numbers.limit + unit));
        const bool house = rating->origin == RatedFigure::Origin::house;
        put_small(html, house || rating->source.empty()
                            ? std::string{house ? "house rule" : "rating sheet"}
                            : shortened(rating->source, longest_label));
    }
    html.close();
}

void put_verdict(Html& html, const FigureRow& row) {
    html.open("td", {{"role", "cell"}, {"class", class_of(row)}});
    if (row.verdict) {
        put_mark(html, *row.verdict);
        html.open("span", {{"class", "word"}});
        html.text(analysis::in_words(*row.verdict));
        html.close();
        put_small(html, *row.verdict == VerdictKind::not_comparable
                            ? std::string{"condition missing"}
                            : page(margin_text(row)));
    } else {
        html.open("span", {{"class", "word"}}).text("not scored").close();
        put_small(html, "no limit");
    }
    html.close();
}

void put_reason(Html& html, const std::string& text) {
    html.open("tr", {{"role", "row"}, {"class", "reason"}});
    html.open("td", {{"role", "cell"}, {"colspan", "7"}});
    html.outside(page(text), longest_reason);
    html.close().close();
}

void put_row(Html& html, const FigureRow& row, const Beside& beside) {
    const WrittenRow numbers = written(row);
    const bool failed = row.verdict && *row.verdict == VerdictKind::fail;
    html.open("tbody", {{"role", "rowgroup"}, {"class", failed ? "figure failed" : "figure"}});
    html.open("tr", {{"role", "row"}});
    html.open("th", {{"role", "rowheader"}, {"scope", "row"}});
    html.outside(capitalised(row.label), longest_label);
    put_small(html, page(conditions_of(row)));
    html.close();
    put_value(html, "left", numbers.left, row.single);
    put_value(html, "right", numbers.right, row.single);
    html.open("td", {{"role", "cell"}, {"class", "uncertainty"}});
    html.text(uncertainty_text(row, numbers));
    put_small(html,
              page(numbers.rig == "unknown" ? "rig unknown" : fmt::format("rig {}", numbers.rig)));
    html.close();
    put_limit(html, row, numbers);
    html.open("td", {{"role", "cell"}, {"class", "scale-cell"}});
    put_margin_scale(html, row);
    html.close();
    put_verdict(html, row);
    html.close();
    if (!row.reason.empty()) {
        put_reason(html, capitalised(row.reason));
    }
    if (const std::string assumed = assumed_of(row); !assumed.empty()) {
        put_reason(html, assumed);
    }
    for (const ScoredFigure* entry : row.figures()) {
        for (const Remark* remark : beside.of_figure(entry->id)) {
            const std::string channel = row.single ? "" : channel_words(entry->figure);
            put_reason(html, capitalised(channel.empty() ? remark_text(*remark)
                                                         : fmt::format("{}: {}", channel,
                                                                       remark_text(*remark))));
        }
    }
    html.close();
}

void put_heads(Html& html) {
    html.open("thead", {{"role", "rowgroup"}}).open("tr", {{"role", "row"}});
    const auto head = [&](const char* kind, std::string_view first, std::string_view second) {
        html.open("th", {{"role", "columnheader"}, {"scope", "col"}, {"class", kind}});
        html.text(first);
        if (!second.empty()) {
            html.empty("br").text(second);
        }
        html.close();
    };
    const auto side = [&](const char* symbol, std::string_view name) {
        html.open("th", {{"role", "columnheader"}, {"scope", "col"}, {"class", "number"}});
        html.open("svg",
                  {{"class", "key"}, {"width", "9"}, {"height", "9"}, {"aria-hidden", "true"}});
        html.shape("use", {{"href", symbol}, {"class", std::string{name}}, {"x", 4.5}, {"y", 4.5}});
        html.close();
        html.text(fmt::format(" {}", name)).close();
    };
    head("figure-head", "Figure", "and its conditions");
    side("#disc", "left");
    side("#square", "right");
    head("", "± U (k = 2)", "rig’s part, at most");
    head("", "limit,", "its source");
    html.open("th", {{"role", "columnheader"}, {"scope", "col"}, {"class", "scale-cell"}});
    html.element("span", {{"class", "unseen"}}, "margin");
    put_scale_head(html);
    html.close();
    head("", "verdict", "");
    html.close().close();
}

}  // namespace

void put_sheet_table(Html& html, const std::vector<RowGroup>& groups, const Beside& beside) {
    html.open("table", {{"class", "sheet"}, {"role", "table"}});
    html.element("caption", {{"class", "unseen"}},
                 "Figures with their uncertainty, limit and verdict, grouped by signal path");
    put_heads(html);
    for (const RowGroup& group : groups) {
        html.open("tbody", {{"role", "rowgroup"}, {"class", "group"}})
            .open("tr", {{"role", "row"}});
        html.open("th", {{"role", "rowheader"}, {"scope", "rowgroup"}, {"colspan", "7"}});
        html.outside(group.heading.empty() ? "Figures" : group.heading);
        if (!group.conditions.empty()) {
            html.text(", ");
            html.outside(page(group.conditions), 200);
        }
        html.close().close().close();
        for (const FigureRow& row : group.rows) {
            put_row(html, row, beside);
        }
    }
    html.close();
}

}  // namespace afterload::runner
