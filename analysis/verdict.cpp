#include "analysis/verdict.hpp"

#include "analysis/comparison.hpp"
#include "analysis/measure.hpp"
#include "analysis/scale.hpp"
#include "analysis/standing.hpp"
#include "analysis/wording.hpp"

#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <utility>

namespace afterload::analysis {

std::string_view name(VerdictKind kind) {
    switch (kind) {
        case VerdictKind::pass:
            return "pass";
        case VerdictKind::conditional_pass:
            return "conditional_pass";
        case VerdictKind::conditional_fail:
            return "conditional_fail";
        case VerdictKind::fail:
            return "fail";
        case VerdictKind::not_resolvable:
            return "not_resolvable";
        case VerdictKind::not_comparable:
            return "not_comparable";
    }
    return "";
}

std::string_view in_words(VerdictKind kind) {
    switch (kind) {
        case VerdictKind::pass:
            return "pass";
        case VerdictKind::conditional_pass:
            return "conditional pass";
        case VerdictKind::conditional_fail:
            return "conditional fail";
        case VerdictKind::fail:
            return "fail";
        case VerdictKind::not_resolvable:
            return "not resolvable";
        case VerdictKind::not_comparable:
            return "not comparable";
    }
    return "";
}

namespace {

Verdict refused(VerdictKind kind, std::string reason) {
    Verdict verdict;
    verdict.kind = kind;
    verdict.reason = std::move(reason);
    return verdict;
}

std::string reason_of(const Figure& figure, const Standing& at, double margin) {
    const FigureKind kind = figure.kind;
    const std::string away = in_words(std::abs(margin), kind, 2);
    const std::string_view where = at.inside ? "inside" : "outside";
    const std::string rig = in_words(at.rig_stated.value_or(0.0), kind, 2);
    switch (at.kind) {
        case VerdictKind::pass:
            return "";
        case VerdictKind::fail:
            return fmt::format("outside by {}", away);
        case VerdictKind::not_resolvable:
            return fmt::format("{} by {}, and the rig's own {}, {}, could explain that alone; {}",
                               where, away, rig_word(kind), rig, rig_cure(kind));
        case VerdictKind::conditional_pass:
        case VerdictKind::conditional_fail:
        case VerdictKind::not_comparable:
            break;
    }
    if (at.distance > at.uncertainty + at.rig) {
        return fmt::format("{} by {}, but the rig's own {} is not known; a rig check would tell",
                           where, away, rig_word(kind));
    }
    const std::string band = in_words(expanded(figure.budget), kind, 2);
    const std::string lead =
        at.on_target ? fmt::format("driven to the rating and no further, uncertainty {}", band)
                     : fmt::format("{} by {}, uncertainty {}", where, away, band);
    if (at.rig > at.uncertainty) {
        return fmt::format("{}; the rig's own {}, {}, is the larger part; {}", lead, rig_word(kind),
                           rig, rig_cure(kind));
    }
    const std::string part = largest_line(figure.budget);
    return part.empty() ? lead : fmt::format("{}; {}", lead, part);
}

bool past_warn_band(double value, const std::optional<Limit>& warn) {
    return warn && ((warn->at_least && value < *warn->at_least) ||
                    (warn->at_most && value > *warn->at_most));
}

// A plain pass or fail needs to know what the rig did.
void conditional_where_called(Verdict& verdict, FigureKind kind) {
    if (verdict.kind == VerdictKind::pass || verdict.kind == VerdictKind::fail) {
        make_conditional(verdict,
                         fmt::format("what the rig's own {} does is not known; a rig check "
                                     "would tell",
                                     rig_word(kind)));
    }
}

Verdict judge_value(const Figure& figure, double value, const RatedFigure& rated, double guard) {
    const FigureKind kind = figure.kind;
    Standing at = worse_side(figure, value, rated.limit);
    const bool called = at.kind == VerdictKind::pass || at.kind == VerdictKind::fail;
    const bool too_near = called && at.distance <= guard * at.uncertainty + at.rig;
    if (too_near) {
        at.kind = at.inside ? VerdictKind::conditional_pass : VerdictKind::conditional_fail;
    }
    Verdict verdict;
    verdict.kind = at.kind;
    verdict.margin = at.upper ? at.limit - value : value - at.limit;
    verdict.rig = at.rig_stated.value_or(0.0);
    verdict.expanded = expanded(figure.budget);

    if (above_ceiling(figure, value, at)) {
        verdict.kind = VerdictKind::not_resolvable;
        verdict.reason =
            fmt::format("the uncertainty, {}, is too large to call it; {}",
                        in_words(verdict.expanded, kind, 2), largest_line(figure.budget));
    } else {
        verdict.reason = too_near ? fmt::format(
                                        "{} by {}; after a second look {:g} times the "
                                        "uncertainty, {}, is asked for",
                                        at.inside ? "inside" : "outside",
                                        in_words(std::abs(verdict.margin), kind, 2), guard,
                                        in_words(verdict.expanded, kind, 2))
                                  : reason_of(figure, at, verdict.margin);
        hold_meters_against_each_other(figure, rated, verdict);
    }
    weigh_open_conditions(rated, value, at, verdict);
    if (verdict.kind == VerdictKind::pass && past_warn_band(value, rated.warn)) {
        verdict.reason = "inside the limit, past the shop's warning mark";
    }
    return verdict;
}

Verdict judge_bound(const Figure& figure, const Bound& bound, const RatedFigure& rated) {
    const FigureKind kind = figure.kind;
    const bool upper = bound.side == Bound::Side::at_most;
    const std::optional<double>& limit = upper ? rated.limit.at_most : rated.limit.at_least;
    const std::optional<double>& other = upper ? rated.limit.at_least : rated.limit.at_most;
    const std::string said =
        fmt::format("{} {}", upper ? "at most" : "at least", in_words(bound.value, kind));
    const bool beyond = other && (upper ? bound.value < *other : bound.value > *other);
    const std::optional<double>& hidden =
        upper == (better(kind) != Better::larger) ? figure.rig_cancelled : figure.rig_added;

    Standing at;
    at.inside = !beyond;
    at.limit = beyond ? *other : limit.value_or(*(other ? other : limit));
    at.distance = std::abs(scored(kind, bound.value) - scored(kind, at.limit));
    at.uncertainty = scored_change(kind, bound.value, expanded(figure.budget));

    Verdict verdict;
    verdict.margin = (upper ? at.limit - bound.value : bound.value - at.limit) * (beyond ? -1 : 1);
    verdict.rig = hidden.value_or(0.0);
    verdict.expanded = expanded(figure.budget);
    if (beyond) {
        // A channel that gives nothing has no gain to read, and misses its limit all the same.
        verdict.kind = VerdictKind::fail;
        verdict.reason = fmt::format("{}: nothing stands out of the noise", said);
    } else if (!limit || other || verdict.margin < 0.0) {
        const std::string part = largest_line(figure.budget);
        const bool rig_is_larger = part.empty() || verdict.rig > verdict.expanded;
        verdict.kind = VerdictKind::not_resolvable;
        verdict.reason = fmt::format("{}: the reading cannot be told from noise and rig; {}", said,
                                     rig_is_larger ? std::string{rig_cure(kind)} : part);
    } else {
        verdict.kind = VerdictKind::pass;
        hold_meters_against_each_other(figure, rated, verdict);
    }
    if (!hidden) {
        conditional_where_called(verdict, kind);
    }
    weigh_open_conditions(rated, bound.value, at, verdict);
    return verdict;
}

// A curve stands or falls with its worst point.
Verdict judge_curve(const Figure& figure, const Curve& curve, const RatedFigure& rated,
                    double guard) {
    constexpr double none = std::numeric_limits<double>::infinity();
    const Band everywhere{Hertz{0.0}, Hertz{none}};
    const std::optional<WorstPoint> worst =
        worst_of(curve, rated.conditions.tone_range.value_or(everywhere),
                 rated.limit.at_least.value_or(-none), rated.limit.at_most.value_or(none));
    if (!worst) {
        return refused(VerdictKind::not_resolvable, "no point was measured inside the rated range");
    }
    Figure point = figure;
    point.curve.reset();
    point.value = worst->value;
    point.budget = {{"record and flatness of the rig", BudgetLine::Kind::systematic, worst->u_k1}};
    Verdict verdict = judge(point, rated, guard);
    if (!verdict.reason.empty()) {
        verdict.reason += fmt::format(
            "; worst at {}", in_words(worst->frequency.in<Hertz>(), FigureKind::frequency));
    }
    return verdict;
}

}  // namespace

Verdict judge(const Figure& figure, const RatedFigure& rated, double guard) {
    if (figure.kind != rated.figure) {
        return refused(VerdictKind::not_comparable,
                       fmt::format("{} is never held against {}", spoken(name(figure.kind)),
                                   spoken(name(rated.figure))));
    }
    if (!figure.unresolved.empty()) {
        return refused(VerdictKind::not_resolvable, figure.unresolved);
    }
    if (!rated.limit.at_least && !rated.limit.at_most) {
        return refused(VerdictKind::not_comparable, "the sheet states no limit");
    }
    if (figure.bound && !figure.value) {
        return judge_bound(figure, *figure.bound, rated);
    }
    if (!figure.value && figure.curve) {
        return judge_curve(figure, *figure.curve, rated, guard);
    }
    const bool finite =
        figure.value && std::isfinite(*figure.value) && std::isfinite(expanded(figure.budget));
    if (!finite) {
        return refused(VerdictKind::not_resolvable, "there is no reading; measure it again");
    }
    if (figure.kind == FigureKind::damping_factor && *figure.value <= 0.0) {
        return refused(VerdictKind::not_resolvable,
                       "the output impedance reads zero or less; sense at the terminals");
    }
    return judge_value(figure, *figure.value, rated, guard);
}

}  // namespace afterload::analysis
