#include "runner/papers/figure_rows.hpp"

#include "runner/papers/figure_words.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

namespace afterload::runner {

namespace {

using analysis::VerdictKind;

/// What needs a person stands before what does not.
int rank(VerdictKind kind) {
    switch (kind) {
        case VerdictKind::fail:
            return 5;
        case VerdictKind::not_resolvable:
            return 4;
        case VerdictKind::conditional_fail:
            return 3;
        case VerdictKind::not_comparable:
            return 2;
        case VerdictKind::conditional_pass:
            return 1;
        case VerdictKind::pass:
            return 0;
    }
    return 0;
}

enum class Side { left, right, single };

Side side_of(const Figure& figure) {
    if (figure.kind == FigureKind::channel_balance) {
        return Side::single;
    }
    int channel = figure.channel;
    if (channel == 0 && figure.pair) {
        channel = figure.pair->second;
    }
    return channel == 1 ? Side::left : channel == 2 ? Side::right : Side::single;
}

bool has_row(const ScoredFigure& entry) {
    if (entry.verdict) {
        return true;
    }
    if (entry.figure.kind == FigureKind::frequency || entry.figure.kind == FigureKind::harmonic) {
        return false;
    }
    return entry.figure.value.has_value() || entry.figure.bound.has_value();
}

bool same_row(const FigureRow& row, const StepResult& step, const ScoredFigure& entry) {
    // The label of a curve names its worst point, which may differ from channel to channel.
    const bool same_label = row.label == entry.label || entry.figure.curve.has_value();
    if (row.step != &step || row.kind != entry.figure.kind || !same_label) {
        return false;
    }
    const RatedFigure* rating = row.rating();
    return (rating == nullptr) == !entry.rating.has_value() &&
           (rating == nullptr || rating->id == entry.rating->id);
}

bool takes(FigureRow& row, Side side, const ScoredFigure& entry) {
    if (side == Side::single || row.single) {
        return false;
    }
    const ScoredFigure*& place = side == Side::left ? row.left : row.right;
    if (place != nullptr) {
        return false;
    }
    place = &entry;
    return true;
}

std::string own_reason(const ScoredFigure& entry) {
    if (!entry.verdict) {
        return {};
    }
    if (!entry.verdict->reason.empty()) {
        return entry.verdict->reason;
    }
    if (entry.verdict->kind != VerdictKind::pass && !entry.figure.unresolved.empty()) {
        return entry.figure.unresolved;
    }
    switch (entry.verdict->kind) {
        case VerdictKind::pass:
            return {};
        case VerdictKind::conditional_pass:
            return "inside by less than the uncertainty";
        case VerdictKind::conditional_fail:
            return "outside by less than the uncertainty: cannot be called a fail";
        case VerdictKind::fail:
            return "outside by more than the uncertainty and the rig's part together";
        case VerdictKind::not_resolvable:
            return "the rig alone could explain it, or the uncertainty is too large";
        case VerdictKind::not_comparable:
            return "a condition is not stated on the sheet";
    }
    return {};
}

void decide(FigureRow& row) {
    std::vector<const ScoredFigure*> worst;
    std::size_t judged = 0;
    for (const ScoredFigure* entry : row.figures()) {
        if (!entry->verdict) {
            continue;
        }
        ++judged;
        if (!row.verdict || rank(entry->verdict->kind) > rank(*row.verdict)) {
            row.verdict = entry->verdict->kind;
            worst.clear();
        }
        if (entry->verdict->kind == *row.verdict) {
            worst.push_back(entry);
        }
    }
    if (worst.empty()) {
        return;
    }
    row.label = worst.front()->label;
    const bool one_of_two = worst.size() == 1 && judged == 2;
    if (one_of_two) {
        row.deciding = worst.front() == row.left ? "left" : "right";
    }
    const std::string first = own_reason(*worst.front());
    if (worst.size() == 1 || own_reason(*worst.back()) == first) {
        const bool name_it = !row.deciding.empty() && !first.empty();
        row.reason = name_it ? fmt::format("{}: {}", row.deciding, first) : first;
        return;
    }
    row.reason =
        fmt::format("left: {}; right: {}", own_reason(*worst.front()), own_reason(*worst.back()));
}

Limit shown_limit(const FigureRow& row, double factor) {
    const RatedFigure* rating = row.rating();
    return rating == nullptr ? Limit{} : scaled(rating->limit, factor);
}

double guide_of(const FigureRow& row) {
    if (const RatedFigure* rating = row.rating()) {
        const Limit& limit = rating->limit;
        for (const auto& side : {limit.at_most, limit.at_least, limit.nominal}) {
            if (side && *side != 0.0) {
                return *side;
            }
        }
    }
    double guide = 0.0;
    for (const ScoredFigure* entry : row.figures()) {
        if (entry->figure.value) {
            guide = std::max(guide, std::abs(*entry->figure.value));
        } else if (entry->figure.bound) {
            guide = std::max(guide, std::abs(entry->figure.bound->value));
        }
    }
    return guide;
}

/// A bound is written so that it stays true: at_most rounded up, at_least rounded down.
std::string bound_text(const Bound& bound, double factor) {
    const double value = bound.value * factor;
    const int decimals = decimals_of(value, 2);
    const double place = std::pow(10.0, decimals);
    const bool most = bound.side == Bound::Side::at_most;
    const double scaled_up = value * place;
    const double nearest = std::round(scaled_up);
    const double kept = std::abs(nearest - scaled_up) < 1e-6 ? nearest
                        : most                               ? std::ceil(scaled_up)
                                                             : std::floor(scaled_up);
    return fmt::format("{}{}", most ? "<" : ">", fixed(kept / place, decimals));
}

std::string rig_text(const FigureRow& row, const ShownUnit& unit) {
    double largest = 0.0;
    bool known = true;
    for (const ScoredFigure* entry : row.figures()) {
        const Figure& figure = entry->figure;
        if (!figure.rig_added && !figure.rig_cancelled) {
            known = false;
            continue;
        }
        largest =
            std::max({largest, figure.rig_added.value_or(0.0), figure.rig_cancelled.value_or(0.0)});
    }
    if (!known) {
        return "unknown";
    }
    const double shown = largest * unit.factor;
    return largest == 0.0 ? std::string{"0"} : plain(shown, 2);
}

}  // namespace

std::vector<const ScoredFigure*> FigureRow::figures() const {
    std::vector<const ScoredFigure*> all;
    for (const ScoredFigure* entry : {left, right}) {
        if (entry != nullptr) {
            all.push_back(entry);
        }
    }
    return all;
}

const RatedFigure* FigureRow::rating() const {
    for (const ScoredFigure* entry : figures()) {
        if (entry->rating) {
            return &*entry->rating;
        }
    }
    return nullptr;
}

namespace {

/// Measured again in the middle of a soak, and nothing new: its course is in the soak's trends.
bool repeats_itself(const StepResult& step) {
    return !step.within.empty() && step.moment != "start" && step.moment != "end" &&
           std::all_of(step.figures.begin(), step.figures.end(), [](const ScoredFigure& entry) {
               return !entry.verdict || entry.verdict->kind == analysis::VerdictKind::pass;
           });
}

}  // namespace

std::vector<RowGroup> figure_rows(const RunDocument& run) {
    std::vector<RowGroup> groups;
    const auto group_for = [&](const StepResult& step) -> RowGroup& {
        for (RowGroup& group : groups) {
            if (group.heading == step.group &&
                (group.conditions == step.group_conditions || step.group_conditions.empty())) {
                return group;
            }
        }
        groups.push_back({step.group, step.group_conditions, {}});
        return groups.back();
    };
    for (const StepResult& step : run.steps) {
        if (repeats_itself(step)) {
            continue;
        }
        for (const ScoredFigure& entry : step.figures) {
            if (!has_row(entry)) {
                continue;
            }
            std::vector<FigureRow>& rows = group_for(step).rows;
            const Side side = side_of(entry.figure);
            const bool joined = std::any_of(rows.begin(), rows.end(), [&](FigureRow& row) {
                return same_row(row, step, entry) && takes(row, side, entry);
            });
            if (joined) {
                continue;
            }
            FigureRow row;
            row.label = entry.label;
            row.kind = entry.figure.kind;
            row.step = &step;
            row.single = side == Side::single;
            (side == Side::right ? row.right : row.left) = &entry;
            rows.push_back(std::move(row));
        }
    }
    for (RowGroup& group : groups) {
        for (FigureRow& row : group.rows) {
            decide(row);
        }
    }
    return groups;
}

RowCounts count_rows(const std::vector<RowGroup>& groups) {
    RowCounts counts;
    for (const RowGroup& group : groups) {
        for (const FigureRow& row : group.rows) {
            if (!row.verdict) {
                ++counts.not_scored;
                continue;
            }
            ++counts.by_kind[*row.verdict];
            counts.scored += *row.verdict == VerdictKind::not_comparable ? 0 : 1;
            const auto figures = row.figures();
            counts.assumed += std::any_of(figures.begin(), figures.end(), [](const auto* entry) {
                return !entry->figure.assumed.empty();
            });
        }
    }
    return counts;
}

std::string counts_text(const RowCounts& counts) {
    std::vector<std::string> parts;
    for (const VerdictKind kind :
         {VerdictKind::pass, VerdictKind::conditional_pass, VerdictKind::conditional_fail,
          VerdictKind::fail, VerdictKind::not_resolvable}) {
        if (const auto found = counts.by_kind.find(kind); found != counts.by_kind.end()) {
            parts.push_back(fmt::format("{} {}", found->second, analysis::in_words(kind)));
        }
    }
    std::string text = counts.scored == 0
                           ? std::string{"nothing scored."}
                           : fmt::format("{} scored: {}.", counts.scored, fmt::join(parts, ", "));
    if (const auto found = counts.by_kind.find(VerdictKind::not_comparable);
        found != counts.by_kind.end()) {
        text += fmt::format(" {} not comparable.", found->second);
    }
    if (counts.assumed > 0) {
        text += fmt::format(" {} with assumed conditions.", counts.assumed);
    }
    return text;
}

WrittenRow written(const FigureRow& row) {
    WrittenRow out;
    out.unit = shown_unit(row.kind, guide_of(row));
    const double factor = out.unit.factor;
    const Limit limit = shown_limit(row, factor);
    out.limit = limit_text(limit);
    const RatedFigure* rating = row.rating();
    out.house = rating != nullptr && rating->origin == RatedFigure::Origin::house;
    out.rig = rig_text(row, out.unit);

    double smallest = std::numeric_limits<double>::infinity();
    double largest = 0.0;
    for (const ScoredFigure* entry : row.figures()) {
        const double u = expanded(entry->figure.budget) * factor;
        if (entry->figure.value && std::isfinite(u) && u > 0.0) {
            smallest = std::min(smallest, u);
            largest = std::max(largest, u);
        }
    }
    const std::optional<int> decimals = decimals_for(largest);
    int places = decimals.value_or(0);
    if (!decimals) {
        for (const ScoredFigure* entry : row.figures()) {
            places = std::max(places, decimals_of(entry->figure.value.value_or(0.0) * factor, 3));
        }
    }
    for (const ScoredFigure* entry : row.figures()) {
        if (entry->figure.value) {
            places = decimals_clear_of(*entry->figure.value * factor, places, limit);
        }
    }
    const auto number = [&](const ScoredFigure* entry) -> std::string {
        if (entry == nullptr) {
            return {};
        }
        if (entry->figure.bound) {
            return bound_text(*entry->figure.bound, factor);
        }
        if (!entry->figure.value) {
            return "none";
        }
        if (row.kind == FigureKind::polarity) {
            return fmt::format("{:+.0f}", *entry->figure.value);
        }
        if (row.kind == FigureKind::channel_identity) {
            return fixed(*entry->figure.value, 0);
        }
        return fixed(*entry->figure.value * factor, places);
    };
    out.left = number(row.left);
    out.right = number(row.right);
    if (decimals) {
        out.expanded = fixed(largest, *decimals);
        if (largest > 1.5 * smallest && row.left != nullptr && row.right != nullptr) {
            const auto own = [&](const ScoredFigure* entry) {
                const double u = expanded(entry->figure.budget) * factor;
                return fixed(u, decimals_for(u).value_or(*decimals));
            };
            out.expanded_left = own(row.left);
            out.expanded_right = own(row.right);
        }
    }
    return out;
}

std::optional<double> margin_db(FigureKind kind, double value, const Limit& limit) {
    const Unit unit = unit_of(kind);
    if (unit == Unit::celsius) {
        return std::nullopt;
    }
    const double log_factor = unit == Unit::watt ? 10.0 : 20.0;
    const auto above = [&](double low) -> double {
        if (unit == Unit::decibel) {
            return value - low;
        }
        if (low < 0.0) {
            // A negative limit of a signed figure: distance counts in magnitudes.
            return value >= 0.0 ? std::numeric_limits<double>::infinity()
                                : log_factor * std::log10(low / value);
        }
        return value <= 0.0 ? -std::numeric_limits<double>::infinity()
                            : log_factor * std::log10(value / low);
    };
    const auto below = [&](double high) -> double {
        if (unit == Unit::decibel) {
            return high - value;
        }
        return value <= 0.0 ? std::numeric_limits<double>::infinity()
                            : log_factor * std::log10(high / value);
    };
    std::optional<double> margin;
    if (limit.at_least) {
        margin = above(*limit.at_least);
    }
    if (limit.at_most) {
        const double other = below(*limit.at_most);
        margin = margin ? std::min(*margin, other) : other;
    }
    return margin;
}

std::string margin_text(const FigureRow& row) {
    const RatedFigure* rating = row.rating();
    if (rating == nullptr || !row.verdict) {
        return {};
    }
    std::optional<double> worst;
    bool bounded = false;
    for (const ScoredFigure* entry : row.figures()) {
        const auto value =
            entry->figure.bound ? std::optional{entry->figure.bound->value} : entry->figure.value;
        if (!value) {
            continue;
        }
        const auto margin = margin_db(row.kind, *value, rating->limit);
        if (margin && (!worst || *margin < *worst)) {
            worst = margin;
            bounded = entry->figure.bound.has_value();
        }
    }
    if (!worst) {
        return {};
    }
    const double size = std::abs(*worst);
    if (!std::isfinite(size)) {
        return *worst > 0 ? "far inside" : "far outside";
    }
    const int decimals = size < 1.0 ? 2 : size < 20.0 ? 1 : 0;
    const double place = std::pow(10.0, decimals);
    const std::string number = fixed(bounded ? std::floor(size * place) / place : size, decimals);
    return fmt::format("{}{} dB {}", bounded ? "over " : "", number,
                       *worst >= 0.0 ? "inside" : "outside");
}

std::string assumed_words(const FigureRow& row) {
    std::vector<std::string> parts;
    for (const ScoredFigure* entry : row.figures()) {
        for (const std::string& key : entry->figure.assumed) {
            const std::string value = condition_words(entry->figure.conditions, key);
            std::string part = value.empty() ? key_words(key) : value;
            if (std::find(parts.begin(), parts.end(), part) == parts.end()) {
                parts.push_back(std::move(part));
            }
        }
    }
    return fmt::format("{}", fmt::join(parts, ", "));
}

std::string channel_words(const Figure& figure) {
    const auto side = [](int channel) -> std::string {
        return channel == 1 ? "left" : channel == 2 ? "right" : fmt::format("channel {}", channel);
    };
    if (figure.kind == FigureKind::channel_separation && figure.pair) {
        return fmt::format("{} into {}", side(figure.pair->first), side(figure.pair->second));
    }
    if (figure.channel != 0) {
        return side(figure.channel);
    }
    return {};
}

std::string label_words(const ScoredFigure& scored) {
    const std::string channel = channel_words(scored.figure);
    const std::string label =
        scored.label.empty() ? std::string{words(scored.figure.kind)} : scored.label;
    return channel.empty() ? label : fmt::format("{}, {}", label, channel);
}

}  // namespace afterload::runner
