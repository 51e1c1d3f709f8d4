#include "runner/papers/report_before.hpp"

#include "runner/compare/written_change.hpp"
#include "runner/papers/number_text.hpp"
#include "runner/papers/report_scale.hpp"
#include "runner/papers/report_statement.hpp"
#include "runner/papers/time_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

namespace afterload::runner {

namespace {

using analysis::ChangeKind;
using analysis::VerdictKind;

constexpr std::size_t longest_row_label = 60;

std::string stage_heading(const RunDocument& run, bool with_date) {
    std::string words{name(run.stage)};
    std::replace(words.begin(), words.end(), '_', ' ');
    return with_date ? fmt::format("{}, {}", words, run.started.substr(0, 10)) : words;
}

/// Place on the page.
int order_of(FigureKind kind) {
    static constexpr std::array order{FigureKind::output_power,
                                      FigureKind::distortion_limited_power,
                                      FigureKind::thd,
                                      FigureKind::thd_plus_noise,
                                      FigureKind::frequency_response,
                                      FigureKind::channel_balance,
                                      FigureKind::channel_separation,
                                      FigureKind::signal_to_noise,
                                      FigureKind::noise_voltage,
                                      FigureKind::hum_voltage,
                                      FigureKind::dc_offset,
                                      FigureKind::equalisation_error};
    const auto found = std::find(order.begin(), order.end(), kind);
    return static_cast<int>(found - order.begin());
}

std::optional<double> number_of(const ScoredFigure& entry) {
    if (entry.figure.value) {
        return entry.figure.value;
    }
    return entry.figure.bound ? std::optional{entry.figure.bound->value} : std::nullopt;
}

double margin_of(const ScoredFigure& entry, const RatedFigure* rating) {
    const auto value = number_of(entry);
    if (!value || rating == nullptr) {
        return std::numeric_limits<double>::infinity();
    }
    return margin_db(entry.figure.kind, *value, rating->limit)
        .value_or(std::numeric_limits<double>::infinity());
}

const ScoredFigure* weaker(const ScoredFigure* a, const ScoredFigure* b,
                           const RatedFigure* rating) {
    if (a == nullptr || b == nullptr) {
        return a == nullptr ? b : a;
    }
    return margin_of(*b, rating) < margin_of(*a, rating) ? b : a;
}

const ComparedRow* compared_row(const RunComparison& comparison, const FigureRow& row) {
    for (const ComparedGroup& group : comparison.groups) {
        for (const ComparedRow& compared : group.rows) {
            for (const ComparedFigure* figure : compared.figures()) {
                if (figure->after == row.left || figure->after == row.right) {
                    return &compared;
                }
            }
        }
    }
    return nullptr;
}

/// Was the figure of that name measured then, by another signal or at a level that was not told?
bool measured_otherwise(const RunDocument& before, const FigureRow& row) {
    return std::ranges::any_of(before.steps, [&](const StepResult& step) {
        return std::ranges::any_of(step.figures, [&](const ScoredFigure& entry) {
            return entry.figure.kind == row.kind && entry.label == row.label && number_of(entry) &&
                   std::ranges::any_of(row.figures(), [&](const ScoredFigure* own) {
                       return own->figure.channel == entry.figure.channel &&
                              own->figure.pair == entry.figure.pair;
                   });
        });
    });
}

BeforeRow made_of(const FigureRow& row, const ComparedRow* compared, const RunDocument& before) {
    BeforeRow out;
    out.row = &row;
    const RatedFigure* rating = row.rating();
    out.after = weaker(row.left, row.right, rating);
    if (compared == nullptr) {
        out.other_conditions = measured_otherwise(before, row);
        return out;
    }
    for (const ComparedFigure* figure : compared->figures()) {
        if (figure->difference.kind == ChangeKind::not_comparable) {
            out.other_conditions = true;
        } else {
            out.before = weaker(out.before, figure->before, rating);
        }
    }
    out.change = out.before == nullptr ? std::string{} : change_word(*compared);
    return out;
}

bool plainly_meets(VerdictKind kind) {
    return kind == VerdictKind::pass;
}

/// Must it be seen whatever the page has room for?
bool always(const BeforeRow& row) {
    if (*row.row->verdict == VerdictKind::not_comparable) {
        return false;
    }
    const bool was_outside = row.before != nullptr && row.before->verdict &&
                             *row.row->verdict != row.before->verdict->kind &&
                             !plainly_meets(row.before->verdict->kind);
    return !plainly_meets(*row.row->verdict) || was_outside;
}

void put_cell(Html& html, const char* kind, const std::string& head, const ScoredFigure* entry,
              const RatedFigure* rating, bool other_conditions) {
    html.open("td", {{"role", "cell"}, {"class", kind}});
    html.element("span", {{"class", "narrow-only"}}, head + " ");
    if (entry != nullptr) {
        html.text(customer_value(*entry, rating));
    } else {
        html.element("em", other_conditions ? "other conditions" : "not tested");
    }
    html.close();
}

void put_row(Html& html, const BeforeRow& row, const std::string& was, const std::string& now) {
    const RatedFigure* rating = row.row->rating();
    const bool failed = *row.row->verdict == VerdictKind::fail;
    html.open("tr", {{"role", "row"}, {"class", failed ? "failed-row" : "row"}});
    html.open("th", {{"role", "rowheader"}, {"scope", "row"}});
    html.text(capitalised(std::string{plain_words(row.row->kind)}));
    html.open("small").outside(page(row.row->label), longest_row_label).close();
    html.close();
    put_cell(html, "number was", was, row.before, rating, row.other_conditions);
    put_cell(html, "number now", now, row.after, rating, false);
    html.open("td", {{"role", "cell"}, {"class", "limit-cell"}});
    const ShownUnit unit = customer_unit(*row.after, rating);
    html.text(page(limit_words(scaled(rating->limit, unit.factor), unit.symbol)));
    if (rating->origin == RatedFigure::Origin::house) {
        html.element("sup", "a");
    }
    html.close();
    html.open("td", {{"role", "cell"}, {"class", "scale-cell"}});
    const auto margin = [&](const ScoredFigure* entry) -> std::optional<double> {
        const auto value = entry == nullptr ? std::nullopt : number_of(*entry);
        return value ? margin_db(row.row->kind, *value, rating->limit) : std::nullopt;
    };
    put_before_scale(html, margin(row.before), margin(row.after));
    html.close();
    html.open("td", {{"role", "cell"}, {"class", failed ? "word-cell fail" : "word-cell"}});
    html.element("span", {{"class", "word"}}, customer_word(*row.row->verdict));
    if (!row.change.empty()) {
        html.element("small", row.change);
    }
    html.close();
    html.close();
}

}  // namespace

std::string customer_word(VerdictKind kind) {
    switch (kind) {
        case VerdictKind::pass:
            return "meets";
        case VerdictKind::conditional_pass:
            return "meets, narrowly";
        case VerdictKind::conditional_fail:
            return "borderline";
        case VerdictKind::fail:
            return "does not meet";
        case VerdictKind::not_resolvable:
            return "could not be decided";
        case VerdictKind::not_comparable:
            return "no rating to compare";
    }
    return "";
}

ShownUnit customer_unit(const ScoredFigure& entry, const RatedFigure* rating) {
    double guide = number_of(entry).value_or(0.0);
    if (rating != nullptr) {
        for (const auto& side : {rating->limit.at_most, rating->limit.at_least}) {
            if (side && *side != 0.0) {
                guide = *side;
                break;
            }
        }
    }
    return shown_unit(entry.figure.kind, guide);
}

std::string limit_words(const Limit& shown, const std::string& symbol) {
    const std::string unit = symbol.empty() ? "" : " " + symbol;
    if (shown.at_least && !shown.at_most) {
        return fmt::format("at least {}{}", plain(*shown.at_least), unit);
    }
    if (shown.at_most && !shown.at_least) {
        return fmt::format("at most {}{}", plain(*shown.at_most), unit);
    }
    return limit_text(shown) + unit;
}

std::string customer_value(const ScoredFigure& entry, const RatedFigure* rating) {
    const ShownUnit unit = customer_unit(entry, rating);
    const std::string symbol = unit.symbol.empty() ? "" : " " + unit.symbol;
    const auto number = number_of(entry);
    if (!number) {
        return "none";
    }
    const double value = *number * unit.factor;
    const bool decibels = unit_of(entry.figure.kind) == Unit::decibel;
    int decimals = decibels ? 1 : decimals_of(value, 2);
    if (unit_of(entry.figure.kind) == Unit::volt && std::abs(value) >= 1.0) {
        decimals = 0;
    }
    if (rating != nullptr) {
        decimals = decimals_clear_of(value, decimals, scaled(rating->limit, unit.factor));
    }
    const std::string sign = !entry.figure.bound                                ? ""
                             : entry.figure.bound->side == Bound::Side::at_most ? "< "
                                                                                : "> ";
    return page(fmt::format("{}{}{}", sign, fixed(value, decimals), symbol));
}

std::vector<BeforeRow> before_rows(const RunComparison& comparison,
                                   const std::vector<RowGroup>& groups, int& left_out,
                                   int& left_out_met) {
    std::vector<BeforeRow> all;
    for (const RowGroup& group : groups) {
        for (const FigureRow& row : group.rows) {
            const bool rated = row.verdict && row.rating() != nullptr && !row.figures().empty();
            if (rated) {
                all.push_back(made_of(row, compared_row(comparison, row), *comparison.before));
            }
        }
    }
    std::stable_sort(all.begin(), all.end(), [](const BeforeRow& a, const BeforeRow& b) {
        return order_of(a.row->kind) < order_of(b.row->kind);
    });
    // What must be seen; then one of each kind; then the rest, as long as there is room.
    std::vector<bool> kept(all.size(), false);
    std::size_t count = 0;
    const auto keep = [&](std::size_t i) {
        count += kept[i] ? std::size_t{0} : std::size_t{1};
        kept[i] = true;
    };
    const auto has_kind = [&](FigureKind kind) {
        for (std::size_t i = 0; i < all.size(); ++i) {
            if (kept[i] && all[i].row->kind == kind) {
                return true;
            }
        }
        return false;
    };
    for (std::size_t i = 0; i < all.size(); ++i) {
        if (always(all[i])) {
            keep(i);
        }
    }
    for (const bool one_of_each : {true, false}) {
        for (std::size_t i = 0; i < all.size() && count < rows_of_first_page; ++i) {
            if (*all[i].row->verdict != VerdictKind::not_comparable &&
                !(one_of_each && has_kind(all[i].row->kind))) {
                keep(i);
            }
        }
    }
    std::vector<BeforeRow> rows;
    left_out = 0;
    left_out_met = 0;
    for (std::size_t i = 0; i < all.size(); ++i) {
        if (kept[i]) {
            rows.push_back(std::move(all[i]));
            continue;
        }
        if (*all[i].row->verdict == VerdictKind::not_comparable) {
            continue;
        }
        ++left_out;
        left_out_met += plainly_meets(*all[i].row->verdict) ? 1 : 0;
    }
    return rows;
}

void put_before_table(Html& html, const RunComparison& comparison) {
    const std::vector<RowGroup> groups = figure_rows(*comparison.after);
    int left_out = 0;
    int left_out_met = 0;
    const std::vector<BeforeRow> rows = before_rows(comparison, groups, left_out, left_out_met);
    if (rows.empty()) {
        return;
    }
    const bool with_date = comparison.before->stage == comparison.after->stage;
    const std::string was = stage_heading(*comparison.before, with_date);
    const std::string now = stage_heading(*comparison.after, with_date);
    html.open("table", {{"class", "first"}, {"role", "table"}});
    html.element("caption", {{"class", "unseen"}},
                 fmt::format("{} beside {}: the weaker channel of each figure", was, now));
    html.open("thead", {{"role", "rowgroup"}}).open("tr", {{"role", "row"}});
    const auto head = [&](const char* kind, const std::string& text) {
        html.open("th", {{"role", "columnheader"}, {"scope", "col"}, {"class", kind}});
        html.text(text).close();
    };
    const auto keyed = [&](const char* kind, const char* symbol, const std::string& text) {
        html.open("th", {{"role", "columnheader"}, {"scope", "col"}, {"class", kind}});
        html.open("svg",
                  {{"class", "key"}, {"width", "9"}, {"height", "9"}, {"aria-hidden", "true"}});
        html.shape("use", {{"href", symbol},
                           {"class", std::string_view{symbol} == "#ring" ? "before" : "left"},
                           {"x", 4.5},
                           {"y", 4.5}});
        html.close();
        html.text(" " + text).close();
    };
    head("", "Figure");
    keyed("number", "#ring", was);
    keyed("number", "#disc", now);
    head("", "rated");
    html.open("th", {{"role", "columnheader"}, {"scope", "col"}, {"class", "scale-cell"}});
    html.element("span", {{"class", "unseen"}}, "margin");
    put_scale_head(html);
    html.close();
    html.open("th", {{"role", "columnheader"}, {"scope", "col"}});
    html.element("span", {{"class", "unseen"}}, "does it meet").close();
    html.close().close();
    html.open("tbody", {{"role", "rowgroup"}});
    bool house = false;
    for (const BeforeRow& row : rows) {
        put_row(html, row, was, now);
        house = house || row.row->rating()->origin == RatedFigure::Origin::house;
    }
    html.close().close();
    std::string note;
    if (left_out > 0) {
        note += left_out == left_out_met
                    ? fmt::format("And {} more, all met: see the figures below. ", left_out)
                    : fmt::format("And {} more, {} of them met: see the figures below. ", left_out,
                                  left_out_met);
    }
    note += fmt::format("Each value is that of the weaker channel. Before: {}, {}.",
                        date_words(comparison.before->started), comparison.before->sequence_name);
    html.open("p", {{"class", "key-line"}});
    if (house) {
        html.element("sup", "a").text(" Our own limit; the maker states none. ");
    }
    html.outside(page(note), 300).close();
}

}  // namespace afterload::runner
