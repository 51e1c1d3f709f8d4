#include "analysis/difference.hpp"

#include "analysis/coverage_factor.hpp"
#include "analysis/scale.hpp"
#include "analysis/shared_budget.hpp"
#include "analysis/verdict.hpp"
#include "analysis/wording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>
#include <vector>

namespace afterload::analysis {

std::string_view name(ChangeKind kind) {
    switch (kind) {
        case ChangeKind::none:
            return "none";
        case ChangeKind::changed:
            return "changed";
        case ChangeKind::conditional:
            return "conditional";
        case ChangeKind::not_resolvable:
            return "not_resolvable";
        case ChangeKind::not_comparable:
            return "not_comparable";
    }
    return "";
}

std::string_view in_words(ChangeKind kind) {
    switch (kind) {
        case ChangeKind::none:
            return "no change";
        case ChangeKind::changed:
            return "changed";
        case ChangeKind::conditional:
            return "perhaps changed";
        case ChangeKind::not_resolvable:
            return "not resolvable";
        case ChangeKind::not_comparable:
            return "not comparable";
    }
    return "";
}

namespace {

constexpr double endless = std::numeric_limits<double>::infinity();

// The level's part of a distortion goes with its slope against level, whose sign no budget states.
bool sign_known(FigureKind kind) {
    switch (kind) {
        case FigureKind::thd:
        case FigureKind::thd_plus_noise:
        case FigureKind::harmonic:
        case FigureKind::modulation_distortion:
        case FigureKind::difference_frequency_distortion:
            return false;
        default:
            return true;
    }
}

bool never_negative(FigureKind kind) {
    switch (unit_of(kind)) {
        case Unit::decibel:
            return falling(kind);  // on their scale they are ratios of volts
        case Unit::celsius:
            return false;
        case Unit::volt:
            return kind != FigureKind::dc_offset && kind != FigureKind::supply_rail;
        default:
            return kind != FigureKind::polarity;
    }
}

bool is_a_word(FigureKind kind) {
    return kind == FigureKind::polarity || kind == FigureKind::channel_identity;
}

bool compared_as_curve(const Figure& figure) {
    return figure.curve && unit_of(figure.kind) == Unit::decibel &&
           figure.curve->value.size() == figure.curve->frequency_hz.size() &&
           figure.curve->u_k1.size() == figure.curve->frequency_hz.size();
}

Budget scaled(Budget lines, double factor) {
    for (BudgetLine& line : lines) {
        line.u_k1 *= std::abs(factor);
    }
    return lines;
}

/// What a kind of figure may be uncertain by and still tell a change that matters, on its scale.
double ceiling_on_scale(FigureKind kind, const std::optional<Limit>& limit, double largest) {
    if (unit_of(kind) == Unit::decibel) {
        const bool rated = falling(kind) && limit && limit->at_least;
        const double at = rated ? std::min(largest, *limit->at_least) : largest;
        return scored_change(kind, at, uncertainty_ceiling(kind));
    }
    double guide = std::abs(largest);
    if (limit) {
        for (const auto& side : {limit->at_least, limit->at_most}) {
            if (side) {
                guide = std::max(guide, std::abs(*side));
            }
        }
    }
    return scored_change(kind, guide, uncertainty_ceiling(kind) * guide);
}

std::string rig_unknown(FigureKind kind) {
    return fmt::format("what the rig's own {} did is not known; a rig check would tell",
                       rig_word(kind));
}

Difference refused(ChangeKind kind, std::string why) {
    Difference out;
    out.kind = kind;
    out.reason = std::move(why);
    return out;
}

/// On the scale of the kind: what the rig may have added to a reading, or hidden of it.
struct RigOnScale {
    double added = 0.0;
    double hidden = 0.0;
    bool known = true;
};

RigOnScale rig_on_scale(const Figure& figure, double value) {
    const double at = scored(figure.kind, value);
    const auto away = [&](const std::optional<double>& part, double sign) {
        if (!part || *part == 0.0) {
            return 0.0;
        }
        const double less = falling(figure.kind) ? -sign : sign;
        return std::abs(scored(figure.kind, value + less * *part) - at);
    };
    RigOnScale rig;
    rig.added = away(figure.rig_added, -1.0);
    rig.hidden = away(figure.rig_cancelled, 1.0);
    rig.known = figure.rig_added.has_value() && figure.rig_cancelled.has_value();
    return rig;
}

/// One factor brings the uncertainties of one side onto the scale, another the difference back into
/// the figure's unit, so that d > U + B says the same in both.
struct Scale {
    FigureKind kind;
    double before;
    double after;

    [[nodiscard]] double onto(double value) const { return scored_change(kind, value, 1.0); }
    [[nodiscard]] double back() const {
        const double on_scale = std::abs(scored(kind, after) - scored(kind, before));
        const double own = std::abs(after - before);
        return on_scale > 0.0 && own > 0.0 ? own / on_scale : 1.0 / onto(after);
    }
};

double edge_value(const Figure& figure) {
    return figure.value ? *figure.value : figure.bound->value;
}

/// The reading that is larger on the scale: the smaller separation, the smaller damping factor.
double largest_on_scale(const Figure& before, const Figure& after) {
    const double was = edge_value(before);
    const double is = edge_value(after);
    if (falling(after.kind)) {
        return std::min(was, is);
    }
    return std::abs(is) > std::abs(was) ? is : was;
}

Budget setting_up_on_scale(const Figure& before, const Figure& after,
                           const std::optional<Repeats>& own) {
    const FigureKind kind = after.kind;
    const double at = largest_on_scale(before, after);
    const double size = std::max(std::abs(edge_value(before)), std::abs(edge_value(after)));
    Budget lines = of_setting_up(before, after, own);
    for (BudgetLine& line : lines) {
        // What is stated of the larger reading, in its unit, is the same share of another.
        const double share = setting_up(kind).absolute || size == 0.0 ? 1.0 : std::abs(at) / size;
        line.u_k1 = scored_change(kind, at, share * line.u_k1);
    }
    return lines;
}

void call(Difference& out, FigureKind kind, double distance, double uncertainty, double rig,
          bool rig_known, double ceiling) {
    if (distance > uncertainty + rig) {
        out.kind = rig_known ? ChangeKind::changed : ChangeKind::conditional;
        out.reason = rig_known ? std::string{} : rig_unknown(kind);
    } else if (distance > uncertainty) {
        out.kind = ChangeKind::not_resolvable;
        out.reason = fmt::format("the rig's own {} of both runs, {} together, could explain it; {}",
                                 rig_word(kind), in_words(out.rig, kind, 2), rig_cure(kind));
    } else if (uncertainty + rig > ceiling) {
        out.kind = ChangeKind::not_resolvable;
        out.reason = fmt::format("a change below {} cannot be seen",
                                 in_words(out.expanded + out.rig, kind, 2));
    } else {
        out.kind = ChangeKind::none;
    }
}

Difference of_values(const Figure& before, const Figure& after, const Between& between) {
    const FigureKind kind = after.kind;
    const Scale scale{kind, *before.value, *after.value};
    Difference out;
    out.value = *after.value - *before.value;
    const double back = scale.back();
    Budget lines = budget_of_difference(scaled(before.budget, scale.onto(*before.value)),
                                        scaled(after.budget, scale.onto(*after.value)),
                                        between.same_rig, sign_known(kind), out.cancelled);
    for (BudgetLine& line : setting_up_on_scale(before, after, between.own)) {
        lines.push_back(std::move(line));
    }
    out.coverage = coverage_factor(effective_degrees_of_freedom(lines));
    const double uncertainty = out.coverage * combined(lines);
    const double distance = std::abs(scored(kind, *after.value) - scored(kind, *before.value));
    const bool rose = scored(kind, *after.value) >= scored(kind, *before.value);
    const RigOnScale was = rig_on_scale(before, *before.value);
    const RigOnScale is = rig_on_scale(after, *after.value);
    const double rig = rose ? is.added + was.hidden : was.added + is.hidden;

    out.budget = scaled(std::move(lines), back);
    out.cancelled *= back;
    out.expanded = uncertainty * back;
    out.rig = rig * back;
    call(out, kind, distance, uncertainty, rig, was.known && is.known,
         ceiling_on_scale(kind, between.limit, largest_on_scale(before, after)));
    if (out.kind == ChangeKind::changed || out.kind == ChangeKind::conditional) {
        out.sense = sense_of(kind, *before.value, *after.value, between.limit);
    }
    return out;
}

/// Where the true value may lie, on the scale.
struct Interval {
    double low = -endless;
    double high = endless;
    bool rig_known = true;
};

Interval interval_of(const Figure& figure) {
    const FigureKind kind = figure.kind;
    const double floor = never_negative(kind) ? 0.0 : -endless;
    if (figure.value) {
        const double at = scored(kind, *figure.value);
        const double reach = scored_change(kind, *figure.value, expanded(figure.budget));
        const RigOnScale rig = rig_on_scale(figure, *figure.value);
        return {std::max(floor, at - reach - rig.added), at + reach + rig.hidden, rig.known};
    }
    const double edge = scored(kind, figure.bound->value);
    const bool upper = (figure.bound->side == Bound::Side::at_most) != falling(kind);
    const bool known = figure.rig_cancelled.has_value();
    return upper ? Interval{floor, edge, known} : Interval{edge, endless, known};
}

Difference of_bounds(const Figure& before, const Figure& after, const Between& between) {
    const FigureKind kind = after.kind;
    const Interval was = interval_of(before);
    const Interval is = interval_of(after);
    // Setting up again blurs where the two meet.
    const Budget again = setting_up_on_scale(before, after, between.own);
    const double blur = coverage_factor(effective_degrees_of_freedom(again)) * combined(again);
    Difference out;
    const double rise = is.low - was.high - blur;
    const double fall = was.low - is.high - blur;
    if (rise > 0.0 || fall > 0.0) {
        const bool known = was.rig_known && is.rig_known;
        out.kind = known ? ChangeKind::changed : ChangeKind::conditional;
        out.reason = known ? std::string{} : rig_unknown(kind);
        // From the edge of the one interval to the edge of the other, what setting up blurs aside.
        const double edge = rise > 0.0 ? is.low - blur : is.high + blur;
        const double change =
            unscored(kind, edge) - unscored(kind, rise > 0.0 ? was.high : was.low);
        out.bound = Bound{change, change < 0.0 ? Bound::Side::at_most : Bound::Side::at_least};
        out.sense = sense_of(kind, edge_value(before), edge_value(after), between.limit);
        return out;
    }
    const double open = std::max(is.high - was.low, was.high - is.low);
    if (open <= ceiling_on_scale(kind, between.limit, largest_on_scale(before, after))) {
        out.kind = ChangeKind::none;
        out.reason = "one side is a bound: none that matters beside the limit";
        return out;
    }
    out.kind = ChangeKind::not_resolvable;
    out.reason = before.value || after.value
                     ? fmt::format("{} is only a bound, and the other lies within it",
                                   before.value ? "after" : "before")
                     : std::string{"both are only bounds"};
    return out;
}

struct PointPair {
    std::size_t before = 0;
    std::size_t after = 0;
};

/// Points of both curves at the same frequencies, within 2 %, each used once.
std::vector<PointPair> common_points(const Curve& before, const Curve& after) {
    constexpr double slack = 0.02;
    std::vector<PointPair> pairs;
    std::size_t j = 0;
    for (std::size_t i = 0; i < before.frequency_hz.size(); ++i) {
        const double wanted = before.frequency_hz[i];
        while (j < after.frequency_hz.size() && after.frequency_hz[j] < wanted * (1.0 - slack)) {
            ++j;
        }
        if (j >= after.frequency_hz.size() || after.frequency_hz[j] > wanted * (1.0 + slack)) {
            continue;
        }
        while (j + 1 < after.frequency_hz.size() && std::abs(after.frequency_hz[j + 1] - wanted) <
                                                        std::abs(after.frequency_hz[j] - wanted)) {
            ++j;
        }
        pairs.push_back({i, j++});
    }
    return pairs;
}

/// At one point: the curve's own uncertainty, of which the systematic lines are known by name.
Budget budget_at(const Figure& figure, double u_k1) {
    Budget lines;
    double systematic = 0.0;
    for (const BudgetLine& line : figure.budget) {
        if (line.kind == BudgetLine::Kind::systematic &&
            std::hypot(systematic, line.u_k1) <= u_k1) {
            lines.push_back(line);
            systematic = std::hypot(systematic, line.u_k1);
        }
    }
    const double rest = std::sqrt(std::max(0.0, u_k1 * u_k1 - systematic * systematic));
    if (rest > 0.0) {
        lines.push_back({"record noise", BudgetLine::Kind::noise, rest});
    }
    return lines;
}

Figure at_point(const Figure& figure, std::size_t index) {
    Figure point = figure;
    point.value = figure.curve->value[index];
    point.bound.reset();
    point.budget = budget_at(figure, figure.curve->u_k1[index]);
    point.curve.reset();
    return point;
}

Difference of_curves(const Figure& before, const Figure& after, const Between& between) {
    const std::vector<PointPair> pairs = common_points(*before.curve, *after.curve);
    if (pairs.empty()) {
        return refused(ChangeKind::not_comparable, "the curves have no frequency in common");
    }
    Difference worst;
    Budget worst_lines;
    double most = -1.0;
    int choices = 0;
    for (const PointPair& pair : pairs) {
        // The point that all others refer to is nothing by definition.
        if (before.curve->u_k1[pair.before] == 0.0 && after.curve->u_k1[pair.after] == 0.0) {
            continue;
        }
        ++choices;
        const Figure was = at_point(before, pair.before);
        const Figure is = at_point(after, pair.after);
        Difference here = of_values(was, is, between);
        const double share = std::abs(*here.value) / std::max(here.expanded + here.rig, 1e-300);
        if (share > most) {
            most = share;
            here.before = was.value;
            here.after = is.value;
            here.worst_at = Hertz{after.curve->frequency_hz[pair.after]};
            worst = std::move(here);
        }
    }
    if (choices == 0) {
        return refused(ChangeKind::not_comparable,
                       "the curves have nothing in common but what they refer to");
    }
    const FigureKind kind = after.kind;
    worst.coverage = coverage_factor(effective_degrees_of_freedom(worst.budget), choices);
    worst.expanded = worst.coverage * combined(worst.budget);
    const bool known = before.rig_added && after.rig_added;
    call(worst, kind, std::abs(*worst.value), worst.expanded, worst.rig, known,
         ceiling_on_scale(kind, between.limit, *worst.after));
    worst.sense = worst.kind == ChangeKind::changed || worst.kind == ChangeKind::conditional
                      ? sense_of(kind, *worst.before, *worst.after, between.limit)
                      : Sense::none;
    return worst;
}

}  // namespace

Difference difference(const Figure& before, const Figure& after, const Between& between) {
    for (const Figure* figure : {&before, &after}) {
        if (!figure->unresolved.empty()) {
            return refused(
                ChangeKind::not_resolvable,
                fmt::format("{}: {}", figure == &before ? "before" : "after", figure->unresolved));
        }
    }
    if (compared_as_curve(before) && compared_as_curve(after)) {
        return of_curves(before, after, between);
    }
    const auto usable = [](const Figure& figure) {
        return (figure.value && std::isfinite(*figure.value) &&
                std::isfinite(expanded(figure.budget))) ||
               (!figure.value && figure.bound && std::isfinite(figure.bound->value));
    };
    if (!usable(before) || !usable(after)) {
        return refused(ChangeKind::not_resolvable,
                       fmt::format("{}: there is no reading", usable(before) ? "after" : "before"));
    }
    if (before.value && after.value && is_a_word(after.kind)) {
        Difference out;
        out.value = *after.value - *before.value;
        out.kind = *out.value == 0.0 ? ChangeKind::none : ChangeKind::changed;
        return out;
    }
    return before.value && after.value ? of_values(before, after, between)
                                       : of_bounds(before, after, between);
}

}  // namespace afterload::analysis
