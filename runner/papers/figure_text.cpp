#include "runner/papers/figure_text.hpp"

#include "analysis/budget_advice.hpp"
#include "analysis/conformance.hpp"
#include "runner/hints/hint_text.hpp"
#include "runner/papers/figure_rows.hpp"
#include "runner/papers/figure_words.hpp"
#include "runner/papers/number_text.hpp"
#include "runner/papers/sheet.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace afterload::runner {

namespace {

constexpr std::size_t value_column = 16;
constexpr std::size_t longest_remark_shown = 4000;

std::string unit_after(std::string_view symbol) {
    return symbol.empty() ? std::string{} : fmt::format(" {}", symbol);
}

std::string share_words(double share) {
    if (share > 0.999) {
        return "more than 99.9 %";
    }
    return share < 0.001 ? "less than 0.1 %" : fmt::format("{:.1f} %", 100.0 * share);
}

class FigureSheet {
public:
    FigureSheet(const ScoredFigure& entry, const Terminal& terminal, const Beside& beside)
        : entry_{entry}, figure_{entry.figure}, terminal_{terminal}, beside_{beside} {
        FigureRow row;
        row.kind = figure_.kind;
        row.left = &entry;
        row.single = true;
        numbers_ = written(row);
        margin_ = margin_text_of(row);
    }

    std::string text(const RunDocument& run) {
        head(run);
        value();
        limit();
        verdict();
        remarks();
        conditions();
        rig();
        budget();
        table();
        details();
        out_ += hints_of_figure(beside_.hints_of(run), entry_.id, terminal_);
        return std::move(out_);
    }

private:
    std::string margin_text_of(FigureRow& row) {
        if (entry_.verdict) {
            row.verdict = entry_.verdict->kind;
        }
        return margin_text(row);
    }

    void line(std::string_view name, std::string_view text, Emphasis emphasis = Emphasis::plain) {
        std::string lines = wrapped(text, value_column, value_column, terminal_, emphasis);
        TextLine head{terminal_};
        head.put(name, Emphasis::faint);
        std::string start = head.text();
        start.pop_back();
        const std::size_t used = columns(for_terminal(name, terminal_));
        start += std::string(value_column - std::min(used, value_column - 1), ' ');
        out_ += start + lines.substr(std::min(value_column, lines.size()));
    }

    void head(const RunDocument& run) {
        TextLine title{terminal_};
        title.put(cut(entry_.label.empty() ? std::string{words(figure_.kind)} : entry_.label, 50,
                      terminal_),
                  Emphasis::bold);
        if (const std::string channel = channel_words(figure_); !channel.empty()) {
            title.put("  " + channel);
        }
        out_ += title.text();
        out_ += wrapped(fmt::format("{} of run {}, {} {} serial {}", entry_.id, run.id,
                                    run.unit.maker, run.unit.model, run.serial),
                        0, 2, terminal_, Emphasis::faint);
        out_ += '\n';
    }

    void value() {
        const std::string unit = unit_after(numbers_.unit.symbol);
        if (figure_.bound) {
            line("value",
                 fmt::format("{} {}{}: it cannot be told from noise and rig",
                             figure_.bound->side == Bound::Side::at_most ? "at most" : "at least",
                             numbers_.left.substr(1), unit));
        } else if (figure_.value) {
            line("value",
                 numbers_.expanded.empty()
                     ? numbers_.left + unit
                     : fmt::format("{} ± {}{} (k = 2)", numbers_.left, numbers_.expanded, unit));
        } else if (!figure_.unresolved.empty()) {
            line("value", "none: " + figure_.unresolved);
        } else if (figure_.curve) {
            line("value", fmt::format("a curve of {} points, see run.json or the report",
                                      figure_.curve->frequency_hz.size()));
        }
    }

    void limit() {
        if (!entry_.rating) {
            line("limit", "none: not scored");
            return;
        }
        const std::string origin =
            entry_.rating->origin == RatedFigure::Origin::house && entry_.rating->source.empty()
                ? std::string{"house rule"}
                : entry_.rating->source;
        line("limit", fmt::format("{}{}{}{}", numbers_.limit, unit_after(numbers_.unit.symbol),
                                  origin.empty() ? "" : ", ", origin));
    }

    void verdict() {
        if (!entry_.verdict) {
            return;
        }
        TextLine text{terminal_};
        text.put("verdict", Emphasis::faint).to(value_column);
        text.put(analysis::in_words(entry_.verdict->kind), emphasis_of(entry_.verdict->kind));
        if (!margin_.empty()) {
            text.put(", " + margin_);
        }
        out_ += text.text();
        if (!entry_.verdict->reason.empty()) {
            line("reason", entry_.verdict->reason);
        }
        const auto inside = analysis::conformance_probability(figure_, entry_.rating->limit);
        if (inside && entry_.verdict->kind != analysis::VerdictKind::not_comparable) {
            line("chance", share_words(*inside) +
                               " that the true value is inside the limit, from the uncertainty "
                               "alone (the rig's part is not in it)");
        }
    }

    void remarks() {
        for (const Remark* remark : beside_.of_figure(entry_.id)) {
            line("", cut(remark_text(*remark), longest_remark_shown, terminal_));
        }
    }

    void conditions() {
        std::vector<std::string> parts;
        for (const std::string_view key : condition_keys()) {
            if (std::string part = condition_words(figure_.conditions, key); !part.empty()) {
                parts.push_back(std::move(part));
            }
        }
        if (!parts.empty()) {
            line("conditions", fmt::format("{}", fmt::join(parts, ", ")));
        }
        if (!figure_.assumed.empty()) {
            std::vector<std::string> keys;
            for (const std::string& key : figure_.assumed) {
                keys.push_back(key_words(key));
            }
            line("assumed", fmt::format("{}: not stated on the sheet", fmt::join(keys, ", ")));
        }
    }

    void rig() {
        const auto part = [&](const std::optional<double>& value) {
            return value
                       ? plain(*value * numbers_.unit.factor, 2) + unit_after(numbers_.unit.symbol)
                       : std::string{"unknown"};
        };
        line("rig", fmt::format("may have added {}, hidden {}", part(figure_.rig_added),
                                part(figure_.rig_cancelled)));
    }

    void budget() {
        if (figure_.budget.empty()) {
            return;
        }
        Budget lines = figure_.budget;
        std::stable_sort(lines.begin(), lines.end(), [](const auto& a, const auto& b) {
            return std::abs(a.u_k1) > std::abs(b.u_k1);
        });
        const double variance = combined(lines) * combined(lines);
        out_ += '\n';
        TextLine head{terminal_};
        head.put("budget", Emphasis::bold)
            .ending_at(14, "share", Emphasis::faint)
            .ending_at(26, "u, k=1", Emphasis::faint)
            .to(28)
            .put("source", Emphasis::faint);
        out_ += head.text();
        for (const BudgetLine& entry : lines) {
            const double share = variance > 0.0 ? entry.u_k1 * entry.u_k1 / variance : 0.0;
            std::string source = fmt::format("{} ({}", entry.source, name(entry.kind));
            if (std::isfinite(entry.degrees_of_freedom)) {
                source +=
                    fmt::format(", {} degrees of freedom", plain(entry.degrees_of_freedom, 3));
            }
            source += ')';
            std::string rest = wrapped(source, 28, 30, terminal_);
            TextLine start{terminal_};
            start.ending_at(14, fmt::format("{:.0f} %", 100.0 * share));
            start.ending_at(
                26, plain(entry.u_k1 * numbers_.unit.factor, 2) + unit_after(numbers_.unit.symbol));
            std::string text = start.text();
            text.pop_back();
            text += std::string(28 - std::min<std::size_t>(start.width(), 27), ' ');
            out_ += text + rest.substr(std::min<std::size_t>(28, rest.size()));
        }
        out_ += wrapped(analysis::what_would_shrink(figure_), 0, 2, terminal_);
    }

    void table() {
        for (const HarmonicRow& row : figure_.table) {
            out_ += wrapped(fmt::format("H{:<3} {:>9} %  {:>7.1f}°  ±{} %", row.order,
                                        plain(100.0 * row.ratio, 3), row.phase_degrees,
                                        plain(200.0 * row.u_k1, 2)),
                            2, 4, terminal_);
        }
    }

    void details() {
        for (const auto& [key, value] : figure_.details) {
            line(key_words(key), plain(value, 6));
        }
    }

    const ScoredFigure& entry_;
    const Figure& figure_;
    const Terminal& terminal_;
    const Beside& beside_;
    WrittenRow numbers_;
    std::string margin_;
    std::string out_;
};

}  // namespace

std::string figure_text(const RunDocument& run, const ScoredFigure& entry, const Terminal& terminal,
                        const Beside& beside) {
    Terminal kept = terminal;
    kept.width = std::clamp<std::size_t>(kept.width, 50, 80);
    return FigureSheet{entry, kept, beside}.text(run);
}

}  // namespace afterload::runner
