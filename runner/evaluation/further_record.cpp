#include "runner/evaluation/further_record.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::runner {
namespace {

using analysis::VerdictKind;

constexpr double to_spare = 1.2;     // the noise that is seen is an estimate, too
constexpr double worth_while = 1.1;  // times the first record

/// Events that did not happen: what bounds their rate is the time watched (3 / T), not a noise that
/// averages. The watched time as a multiple of the first.
double watched_longer(const ScoredFigure& scored) {
    const auto& bound = scored.figure.bound;
    if (scored.figure.kind != FigureKind::random_steps || !bound ||
        bound->side != Bound::Side::at_most) {
        return 0.0;
    }
    const double limit = bound->value + scored.verdict->margin;
    return limit > 0.0 ? to_spare * bound->value / limit : 0.0;
}

bool open_verdict(const analysis::Verdict& verdict) {
    return verdict.kind == VerdictKind::conditional_pass ||
           verdict.kind == VerdictKind::conditional_fail;
}

/// The length at which U has shrunk to what margin and rig leave, as a multiple of the first
/// record; 0 where no length would do.
double lengthening(const ScoredFigure& scored) {
    if (scored.verdict->kind == VerdictKind::not_resolvable) {
        return watched_longer(scored);
    }
    if (!open_verdict(*scored.verdict)) {
        return 0.0;
    }
    double noise = 0.0;
    double rest = 0.0;
    for (const BudgetLine& line : scored.figure.budget) {
        (line.kind == BudgetLine::Kind::noise ? noise : rest) += line.u_k1 * line.u_k1;
    }
    const bool rig_known = scored.figure.rig_added && scored.figure.rig_cancelled;
    const double room =
        0.5 * (std::abs(scored.verdict->margin) - scored.verdict->rig) / analysis::further_guard;
    if (!rig_known || noise <= 0.0 || room <= 0.0 || room * room <= rest) {
        return 0.0;
    }
    return to_spare * noise / (room * room - rest);
}

}  // namespace

std::vector<FurtherRecord> further_records(const std::vector<ScoredFigure>& figures,
                                           const std::vector<std::string>& records, Seconds length,
                                           Seconds longest) {
    std::vector<FurtherRecord> wanted;
    for (const ScoredFigure& scored : figures) {
        if (!scored.verdict || !scored.figure.assumed.empty()) {
            continue;
        }
        const auto place = std::find(records.begin(), records.end(), scored.record);
        const double times = lengthening(scored);
        if (place == records.end() || times < worth_while || times * length > longest) {
            continue;
        }
        const auto index = static_cast<std::size_t>(place - records.begin());
        const auto same =
            std::find_if(wanted.begin(), wanted.end(),
                         [&](const FurtherRecord& other) { return other.record == index; });
        if (same == wanted.end()) {
            wanted.push_back({index, times * length, scored.label, {scored.id}});
        } else {
            same->asked_by.push_back(scored.id);
            same->length = std::max(same->length, times * length);
        }
    }
    return wanted;
}

}  // namespace afterload::runner
