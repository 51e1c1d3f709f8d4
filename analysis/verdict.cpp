#include "analysis/verdict.hpp"

#include "analysis/measure.hpp"
#include "analysis/scale.hpp"
#include "analysis/wording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

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

double uncertainty_ceiling(FigureKind kind) {
    using enum FigureKind;
    switch (kind) {
        case frequency:
            return 0.01;
        case output_voltage:
        case supply_rail:
        case mains_voltage:
            return 0.05;
        case output_power:
        case short_term_power:
        case distortion_limited_power:
        case temperature:
            return 0.10;
        case mains_power:
        case quiescent_current:
        case relay_delay:
        case input_sensitivity:
        case overload_level:
        case bandwidth_low:
        case bandwidth_high:
        case power_bandwidth:
            return 0.20;
        case polarity:
        case channel_identity:
            return 0.30;
        case thd:
        case thd_plus_noise:
        case harmonic:
        case modulation_distortion:
        case difference_frequency_distortion:
        case clipping_symmetry:
        case random_steps:
        case dc_offset:
        case noise_voltage:
        case hum_voltage:
        case output_impedance:
        case damping_factor:
            return 0.50;
        // Decibels.
        case channel_balance:
        case level_linearity:
            return 0.3;
        case gain:
        case frequency_response:
        case equalisation_error:
        case volume_tracking:
            return 0.5;
        case tone_range_error:
            return 1.0;
        case sinad:
        case signal_to_noise:
        case channel_separation:
            return 3.52;  // half of the limit, as a ratio
    }
    return 0.0;
}

namespace {

// A scored target is approached from below and never passed: this much under it is the bench's
// doing.
constexpr double target_window_db = 0.1;

// One side of a limit, and how the reading stands against it. Distances are on the scored scale.
struct Standing {
    bool upper = true;  ///< an at_most limit, in the figure's unit
    double limit = 0.0;
    bool inside = true;
    bool on_target = false;  ///< the limit was the level driven to
    double distance = 0.0;
    double uncertainty = 0.0;
    double rig = 0.0;
    std::optional<double> rig_stated;  ///< in the figure's unit; absent: unknown
    VerdictKind kind = VerdictKind::not_resolvable;
};

int severity(VerdictKind kind) {
    switch (kind) {
        case VerdictKind::pass:
            return 0;
        case VerdictKind::conditional_pass:
            return 1;
        case VerdictKind::not_comparable:
            return 2;
        case VerdictKind::not_resolvable:
            return 3;
        case VerdictKind::conditional_fail:
            return 4;
        case VerdictKind::fail:
            return 5;
    }
    return 5;
}

bool aimed_at(const Figure& figure, double limit) {
    const std::optional<LevelTarget>& aim = figure.conditions.output_level;
    const bool level =
        figure.kind == FigureKind::output_power || figure.kind == FigureKind::output_voltage;
    if (!aim || !level) {
        return false;
    }
    const auto is_limit = [limit](double value) { return std::abs(value - limit) <= 0.01 * limit; };
    switch (aim->kind) {
        case LevelTarget::Kind::rated_fraction:
            return aim->value == 1.0;
        case LevelTarget::Kind::output_power:
            return figure.kind == FigureKind::output_power && is_limit(aim->value);
        case LevelTarget::Kind::output_volts:
            return figure.kind == FigureKind::output_voltage && is_limit(aim->value);
        case LevelTarget::Kind::drive_volts:
        case LevelTarget::Kind::drive_dbfs:
            return false;
    }
    return false;
}

VerdictKind called(const Standing& at) {
    if (at.rig > 0.0 && at.distance <= at.rig) {
        return VerdictKind::not_resolvable;
    }
    const bool clear = at.distance > at.uncertainty + at.rig && at.rig_stated.has_value();
    if (at.inside) {
        return clear ? VerdictKind::pass : VerdictKind::conditional_pass;
    }
    return clear ? VerdictKind::fail : VerdictKind::conditional_fail;
}

// What the rig may have raised counts where the truth may lie lower, and the other way round. For a
// figure that should be large, "added" is what made it look worse, thus smaller.
Standing standing(const Figure& figure, double value, bool upper, double limit) {
    const FigureKind kind = figure.kind;
    Standing at;
    at.upper = upper;
    at.limit = limit;
    double compared = limit;
    if (!upper && aimed_at(figure, limit)) {
        at.on_target = true;
        const Gain window{-target_window_db};
        compared = unit_of(kind) == Unit::watt
                       ? limit * power_ratio(window).in<PowerRatio>()
                       : limit * amplitude_ratio(window).in<AmplitudeRatio>();
    }
    at.inside = upper ? value <= compared : value >= compared;
    at.distance = std::abs(scored(kind, value) - scored(kind, compared));
    at.uncertainty = scored_change(kind, value, expanded(figure.budget));

    const bool truth_may_be_lower = upper != at.inside;
    const bool added_raises = better(kind) != Better::larger;
    at.rig_stated = truth_may_be_lower == added_raises ? figure.rig_added : figure.rig_cancelled;
    const double shift = at.rig_stated.value_or(0.0);
    const double truth = truth_may_be_lower ? value - shift : value + shift;
    at.rig = shift == 0.0 ? 0.0 : std::abs(scored(kind, truth) - scored(kind, value));
    at.kind = called(at);
    return at;
}

Standing worse_side(const Figure& figure, double value, const Limit& limit) {
    std::optional<Standing> worst;
    const auto consider = [&](bool upper, const std::optional<double>& side) {
        if (!side) {
            return;
        }
        const Standing at = standing(figure, value, upper, *side);
        const bool worse = !worst || severity(at.kind) > severity(worst->kind) ||
                           (at.kind == worst->kind && at.distance < worst->distance);
        // Outside on one side is never excused by what the other side says.
        if (!worst || (worst->inside && !at.inside) || (worst->inside == at.inside && worse)) {
            worst = at;
        }
    };
    consider(true, limit.at_most);
    consider(false, limit.at_least);
    return worst.value_or(Standing{});
}

// How far apart the plausible conventions of an absent condition lie, on the scored scale, at the
// limit or at the reading, whichever is the larger.
double spread_on_scale(FigureKind kind, double limit, double value, double spread_db) {
    if (unit_of(kind) == Unit::decibel && !falling(kind)) {
        return spread_db;
    }
    const double factor = amplitude_ratio(Gain{spread_db}).in<AmplitudeRatio>();
    const double size = std::max(std::abs(scored(kind, limit)), std::abs(scored(kind, value)));
    return size * (factor - 1.0);
}

void conditional(Verdict& verdict, std::string because) {
    if (verdict.kind == VerdictKind::pass) {
        verdict.kind = VerdictKind::conditional_pass;
    } else if (verdict.kind == VerdictKind::fail) {
        verdict.kind = VerdictKind::conditional_fail;
    }
    verdict.reason += verdict.reason.empty() ? because : "; " + because;
}

// Did the upper edge of the card's meter leave out what the rated meter counts (narrower), or the
// other way round (wider)? A harmonic that is beyond the count anyway is not missed.
struct MeterDifference {
    bool narrower = false;
    bool wider = false;
};

MeterDifference edges_apart(const Conditions& measured, const Conditions& rated) {
    constexpr double slack = 0.02;
    const Hertz edge = measured.bandwidth->high;
    const Hertz asked = rated.bandwidth->high;
    MeterDifference apart{edge<(1.0 - slack) * asked, edge>(1.0 + slack) * asked};
    if (measured.highest_order && measured.frequency) {
        const int order = *measured.highest_order;
        const Hertz next = (order + 1) * *measured.frequency;
        const Hertz last = order * *measured.frequency;
        apart.narrower = apart.narrower && next > edge;
        apart.wider = apart.wider && last > (1.0 + slack) * asked;
    }
    return apart;
}

void hold_meters_against_each_other(const Figure& figure, const RatedFigure& rated,
                                    Verdict& verdict) {
    const bool passes = verdict.kind == VerdictKind::pass;
    const bool fails = verdict.kind == VerdictKind::fail;
    if (better(figure.kind) != Better::smaller || !(passes || fails)) {
        return;
    }
    const Conditions& measured = figure.conditions;
    const Conditions& asked = rated.conditions;
    if (measured.bandwidth && asked.bandwidth) {
        const MeterDifference apart = edges_apart(measured, asked);
        if ((passes && apart.narrower) || (fails && apart.wider)) {
            conditional(
                verdict,
                fmt::format("measured up to {}, rated up to {}",
                            in_words(measured.bandwidth->high.in<Hertz>(), FigureKind::frequency),
                            in_words(asked.bandwidth->high.in<Hertz>(), FigureKind::frequency)));
        }
    }
    if (measured.highest_order && asked.highest_order &&
        ((passes && *measured.highest_order < *asked.highest_order) ||
         (fails && *measured.highest_order > *asked.highest_order))) {
        conditional(verdict, fmt::format("counted up to harmonic {}, rated up to {}",
                                         *measured.highest_order, *asked.highest_order));
    }
}

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

// Conditions the maker left open: either they cost the comparison, or they make it conditional.
void weigh_open_conditions(const RatedFigure& rated, double value, const Standing& at,
                           Verdict& verdict) {
    std::vector<NeededCondition> open = missing_conditions(rated);
    std::erase_if(open, [](const NeededCondition& needed) { return needed.spread_db <= 0.0; });
    if (open.empty()) {
        return;
    }
    const auto widest = std::ranges::max_element(
        open, [](const auto& a, const auto& b) { return a.spread_db < b.spread_db; });
    const double spread = spread_on_scale(rated.figure, at.limit, value, widest->spread_db);
    std::string keys;
    for (const NeededCondition& needed : open) {
        keys += (keys.empty() ? "" : ", ") + spoken(needed.key);
    }
    if (spread > at.uncertainty + at.rig) {
        verdict.kind = VerdictKind::not_comparable;
        verdict.reason = fmt::format("not stated: {}; {}, {:.2g} dB apart", keys, widest->why,
                                     widest->spread_db);
        return;
    }
    // A pass here would turn into "not comparable" on a better rig, so it cannot be a plain one.
    if (at.inside || at.distance <= at.uncertainty + at.rig + spread) {
        conditional(verdict, fmt::format("not stated: {}; {} assumed", keys, widest->convention));
    }
}

// A plain pass or fail needs to know what the rig did.
void conditional_where_called(Verdict& verdict, FigureKind kind) {
    if (verdict.kind == VerdictKind::pass || verdict.kind == VerdictKind::fail) {
        conditional(verdict, fmt::format("what the rig's own {} does is not known; a rig check "
                                         "would tell",
                                         rig_word(kind)));
    }
}

// Against the limit; far outside, where the reading and its uncertainty outgrow it, against the
// reading. A reading near nothing whose uncertainty is over half of its limit is a bound before it
// comes here: were the ceilings of such figures lower, a worse rig could pass by its bound what a
// better one could not call.
bool above_ceiling(const Figure& figure, double value, const Standing& at) {
    const FigureKind kind = figure.kind;
    const double ceiling = uncertainty_ceiling(kind);
    if (falling(kind)) {
        const double share = unit_of(kind) == Unit::decibel
                                 ? amplitude_ratio(Gain{ceiling}).in<AmplitudeRatio>() - 1.0
                                 : ceiling;
        return at.uncertainty > share * std::max(scored(kind, at.limit), scored(kind, value));
    }
    const double reference =
        unit_of(kind) == Unit::decibel ? 1.0 : std::max(std::abs(at.limit), std::abs(value));
    return expanded(figure.budget) > ceiling * reference;
}

Verdict judge_value(const Figure& figure, double value, const RatedFigure& rated) {
    const FigureKind kind = figure.kind;
    const Standing at = worse_side(figure, value, rated.limit);
    Verdict verdict;
    verdict.kind = at.kind;
    verdict.margin = at.upper ? at.limit - value : value - at.limit;
    verdict.rig = at.rig_stated.value_or(0.0);
    verdict.expanded = expanded(figure.budget);

    const bool gross = !at.inside && at.distance > 3.0 * (at.uncertainty + at.rig);
    const bool too_wide = !gross && above_ceiling(figure, value, at);
    if (too_wide) {
        verdict.kind = VerdictKind::not_resolvable;
        verdict.reason =
            fmt::format("the uncertainty, {}, is too large to call it; {}",
                        in_words(verdict.expanded, kind, 2), largest_line(figure.budget));
    } else {
        verdict.reason = reason_of(figure, at, verdict.margin);
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
Verdict judge_curve(const Figure& figure, const Curve& curve, const RatedFigure& rated) {
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
    Verdict verdict = judge(point, rated);
    if (!verdict.reason.empty()) {
        verdict.reason += fmt::format(
            "; worst at {}", in_words(worst->frequency.in<Hertz>(), FigureKind::frequency));
    }
    return verdict;
}

}  // namespace

Verdict judge(const Figure& figure, const RatedFigure& rated) {
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
        return judge_curve(figure, *figure.curve, rated);
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
    return judge_value(figure, *figure.value, rated);
}

}  // namespace afterload::analysis
