#include "runner/evaluation/scorer.hpp"

#include "analysis/level.hpp"
#include "analysis/verdict.hpp"
#include "runner/evaluation/measured_conditions.hpp"
#include "sequences/review.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace afterload::runner {
namespace {

std::string unsound_reason(const StoredRecord& stored) {
    if (stored.sound) {
        return {};
    }
    std::string text = "the capture stayed unsound";
    for (const CaptureFault& fault : stored.faults) {
        text += fmt::format(": {} at {:.3g} s", name(fault.kind), fault.start.in<Seconds>());
        break;
    }
    return text + "; look at the card before the unit";
}

/// Is the figure nothing without the level that it is stated at?
bool stands_on_its_level(FigureKind kind) {
    switch (kind) {
        case FigureKind::output_voltage:
        case FigureKind::output_power:
        case FigureKind::distortion_limited_power:
        case FigureKind::thd:
        case FigureKind::thd_plus_noise:
        case FigureKind::harmonic:
        case FigureKind::sinad:
        case FigureKind::modulation_distortion:
        case FigureKind::difference_frequency_distortion:
            return true;
        default:
            return false;
    }
}

/// Why the level of one of the figure's channels was beyond the source; empty: it was not.
std::string short_of_its_level(const Figure& figure, const DrivenAs& driven) {
    for (std::size_t c = 0; c < 2; ++c) {
        const bool its = figure.channel == 0 || figure.channel == static_cast<int>(c) + 1;
        if (its && stands_on_its_level(figure.kind) && !driven.short_of_level[c].empty()) {
            return driven.short_of_level[c];
        }
    }
    return {};
}

/// A figure that asked for the record behind it has had its first look already.
double guard_of(const std::string& id, const StoredRecord* record) {
    const bool asked =
        record != nullptr &&
        std::find(record->asked_by.begin(), record->asked_by.end(), id) != record->asked_by.end();
    return asked ? analysis::further_guard : 1.0;
}

}  // namespace

const char* side(int channel) {
    return channel == 1 ? "left" : channel == 2 ? "right" : "both";
}

const RatedFigure* rating_for(const sequences::FigureRequest& request, const Conditions& conditions,
                              const RatingSheet& sheet) {
    if (!request.scored) {
        return nullptr;
    }
    const RatedFigure* best = nullptr;
    for (const RatedFigure& rated : sheet.figures) {
        if (request.rated) {
            if (rated.id == *request.rated) {
                return &rated;
            }
            continue;
        }
        if (!applies(rated, request.figure, conditions)) {
            continue;
        }
        if (best == nullptr || (best->origin == RatedFigure::Origin::house &&
                                rated.origin == RatedFigure::Origin::maker)) {
            best = &rated;
        }
    }
    return best;
}

void hold_against(ScoredFigure& scored, const RatedFigure* rated, const StoredRecord* record) {
    if (rated == nullptr) {
        return;
    }
    scored.rating = *rated;
    for (const NeededCondition& missing : missing_conditions(*rated)) {
        scored.figure.assumed.push_back(missing.key);
    }
    scored.verdict = analysis::judge(scored.figure, *rated, guard_of(scored.id, record));
    if (scored.verdict->kind == analysis::VerdictKind::not_comparable) {
        scored.figure.assumed.clear();
    }
    if (record != nullptr && record->unstable &&
        scored.verdict->kind != analysis::VerdictKind::not_comparable) {
        scored.verdict->kind = analysis::VerdictKind::conditional_fail;
        scored.verdict->reason =
            "unstable: the level moved by itself in two records, no sample missing; clear the lead "
            "first, then look for a joint or a contact";
    }
}

Conditions with_request(Conditions conditions, const sequences::FigureRequest& request) {
    if (request.weighting) {
        conditions.weighting = request.weighting;
    }
    if (request.detector) {
        conditions.detector = request.detector;
    }
    if (request.reference_level) {
        conditions.reference_level = request.reference_level;
    }
    return conditions;
}

Figure unresolved(FigureKind kind, int channel, const Conditions& conditions, std::string why) {
    Figure figure;
    figure.kind = kind;
    figure.channel = channel;
    figure.conditions = conditions;
    figure.unresolved = std::move(why);
    return figure;
}

void Scorer::add(Figure figure, const Conditions& nominal, const RatedFigure* rated,
                 const MeasuredRecord* record) {
    ScoredFigure scored;
    Conditions named = figure.conditions;
    named.frequency = nominal.frequency;
    scored.label = label_of(figure.kind, named, context_.sheet);
    scored.id = step_ + "/" + std::string{name(figure.kind)};
    const auto& load = figure.conditions.load;
    if (load && !same_load(*load, sequences::load_on(context_.bench, std::nullopt))) {
        scored.label += fmt::format(", {:.2g} Ω", load->in<Ohms>());
        scored.id += fmt::format("/{:.2g} ohm", load->in<Ohms>());
    }
    if (figure.conditions.weighting && figure.kind != FigureKind::thd_plus_noise) {
        scored.id += "/" + std::string{name(*figure.conditions.weighting)};
    }
    if (figure.conditions.detector) {
        scored.id += "/" + std::string{name(*figure.conditions.detector)};
    }
    if (const auto& to = figure.conditions.reference_level; to && *to != LevelTarget{}) {
        scored.id += "/re " + reference_text(*to);
    }
    if (nominal.output_level) {
        scored.id += "/" + text(*nominal.output_level);
    }
    if (nominal.frequency) {
        scored.id += fmt::format("/{:g}Hz", nominal.frequency->in<Hertz>());
    }
    if (figure.pair) {
        scored.id += fmt::format("/{}-{}", side(figure.pair->first), side(figure.pair->second));
    } else {
        scored.id += std::string{"/"} + side(figure.channel);
    }
    if (record != nullptr && !record->stored.sound) {
        figure.unresolved = unsound_reason(record->stored);
    }
    if (record != nullptr && figure.unresolved.empty()) {
        figure.unresolved = short_of_its_level(figure, record->stored.driven);
    }
    scored.record = record != nullptr ? record->stored.path : "";
    scored.figure = std::move(figure);
    hold_against(scored, rated, record != nullptr ? &record->stored : nullptr);
    figures_.push_back(std::move(scored));
}

}  // namespace afterload::runner
