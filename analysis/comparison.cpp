#include "analysis/comparison.hpp"

#include "analysis/level.hpp"
#include "analysis/scale.hpp"
#include "analysis/wording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace afterload::analysis {

namespace {

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

}  // namespace

void make_conditional(Verdict& verdict, const std::string& because) {
    if (verdict.kind == VerdictKind::pass) {
        verdict.kind = VerdictKind::conditional_pass;
    } else if (verdict.kind == VerdictKind::fail) {
        verdict.kind = VerdictKind::conditional_fail;
    }
    verdict.reason += verdict.reason.empty() ? because : "; " + because;
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
            make_conditional(
                verdict,
                fmt::format("measured up to {}, rated up to {}",
                            in_words(measured.bandwidth->high.in<Hertz>(), FigureKind::frequency),
                            in_words(asked.bandwidth->high.in<Hertz>(), FigureKind::frequency)));
        }
    }
    if (measured.highest_order && asked.highest_order &&
        ((passes && *measured.highest_order < *asked.highest_order) ||
         (fails && *measured.highest_order > *asked.highest_order))) {
        make_conditional(verdict, fmt::format("counted up to harmonic {}, rated up to {}",
                                              *measured.highest_order, *asked.highest_order));
    }
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
        make_conditional(verdict,
                         fmt::format("not stated: {}; {} assumed", keys, widest->convention));
    }
}

}  // namespace afterload::analysis
