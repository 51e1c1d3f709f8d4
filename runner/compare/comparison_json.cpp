#include "runner/compare/comparison_json.hpp"

#include "runner/exit_status.hpp"
#include "runner/papers/figure_words.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::runner {

namespace {

using analysis::ChangeKind;
using analysis::Difference;

void put_number(Json& out, const char* key, double value) {
    // What is not finite has no number in JSON.
    out[key] = std::isfinite(value) ? Json(value) : Json(nullptr);
}

void put_bound(Json& out, const Bound& bound) {
    put_number(out, "bound", bound.value);
    out["bound_is"] = name(bound.side);
}

Json reading_json(const ScoredFigure& entry) {
    Json out;
    out["id"] = entry.id;
    out["value"] = nullptr;
    if (entry.figure.value) {
        put_number(out, "value", *entry.figure.value);
    } else if (entry.figure.bound) {
        put_bound(out, *entry.figure.bound);
    }
    put_number(out, "u_k1", combined(entry.figure.budget));
    out["verdict"] =
        entry.verdict ? Json(std::string{analysis::name(entry.verdict->kind)}) : Json(nullptr);
    return out;
}

Json figure_json(const std::string& label, const ComparedFigure& pair) {
    const Figure& figure = pair.after->figure;
    const Difference& difference = pair.difference;
    Json out;
    out["figure"] = name(figure.kind);
    out["label"] = label;
    if (figure.channel != 0) {
        out["channel"] = figure.channel;
    }
    if (figure.pair) {
        out["pair"] = {figure.pair->first, figure.pair->second};
    }
    out["unit"] = symbol(unit_of(figure.kind));
    out["before"] = reading_json(*pair.before);
    out["after"] = reading_json(*pair.after);
    if (difference.worst_at) {
        out["worst_at_hz"] = difference.worst_at->in<Hertz>();
        put_number(out["before"], "value", *difference.before);
        put_number(out["after"], "value", *difference.after);
    }
    out["change"] = analysis::name(difference.kind);
    out["sense"] = difference.sense == analysis::Sense::none
                       ? Json(nullptr)
                       : Json(std::string{analysis::name(difference.sense)});
    out["difference"] = nullptr;
    if (difference.value) {
        put_number(out, "difference", *difference.value);
        put_number(out, "u_k1", combined(difference.budget));
        put_number(out, "k", difference.coverage);
        put_number(out, "u_expanded", difference.expanded);
        put_number(out, "rig", difference.rig);
        put_number(out, "shared_u_k1", difference.cancelled);
    } else if (difference.bound) {
        put_bound(out, *difference.bound);
    }
    Json& budget = out["budget"] = Json::array();
    for (const BudgetLine& line : difference.budget) {
        Json entry;
        entry["source"] = line.source;
        entry["kind"] = name(line.kind);
        entry["u_k1"] = line.u_k1;
        put_number(entry, "dof", line.degrees_of_freedom);
        budget.push_back(std::move(entry));
    }
    out["reason"] = difference.reason;
    return out;
}

std::size_t place_of(const RunDocument* run, const std::vector<ComparedRun>& runs) {
    const auto found = std::find_if(runs.begin(), runs.end(),
                                    [&](const ComparedRun& one) { return &one.document == run; });
    return static_cast<std::size_t>(found - runs.begin());
}

Json run_entry(const ComparedRun& run) {
    const RunDocument& document = run.document;
    Json out;
    out["run"] = run.path;
    out["id"] = document.id;
    out["stage"] = name(document.stage);
    out["state"] = name(document.state);
    out["started"] = document.started;
    out["sequence"] = document.sequence_name;
    out["bench"] = document.bench.name;
    out["verdict"] = name(document.verdict);
    out["wrong"] = run.wrong;
    return out;
}

}  // namespace

int exit_status(const std::vector<RunComparison>& comparisons, const std::vector<ComparedRun>& runs,
                const std::vector<std::string>& unreadable) {
    const bool damaged = std::any_of(runs.begin(), runs.end(),
                                     [](const ComparedRun& run) { return !run.wrong.empty(); });
    if (damaged || !unreadable.empty()) {
        return exit_bad_input;
    }
    int worse = 0;
    int told = 0;
    for (const RunComparison& comparison : comparisons) {
        worse += comparison.with(analysis::Sense::worse);
        for (const auto& [kind, count] : comparison.counts()) {
            told += kind == ChangeKind::none || kind == ChangeKind::changed ? count : 0;
        }
    }
    return worse > 0 ? exit_fail : told > 0 ? exit_pass : exit_inconclusive;
}

Json comparison_json(const std::vector<RunComparison>& comparisons,
                     const std::vector<ComparedRun>& runs,
                     const std::vector<std::string>& unreadable) {
    Json out;
    out["schema"] = "afterload/comparison/1";
    const RunDocument& first = runs.front().document;
    out["unit"] = {
        {"maker", first.unit.maker}, {"model", first.unit.model}, {"serial", first.serial}};
    Json& entries = out["runs"] = Json::array();
    for (const ComparedRun& run : runs) {
        entries.push_back(run_entry(run));
    }
    out["unreadable"] = unreadable;
    Json& all = out["comparisons"] = Json::array();
    for (const RunComparison& comparison : comparisons) {
        Json one;
        one["before"] = place_of(comparison.before, runs);
        one["after"] = place_of(comparison.after, runs);
        one["same_rig"] = comparison.same_rig;
        one["setting_up"] = comparison.repeats_freedom > 0.0 ? "own repeats" : "common practice";
        Json& counts = one["counts"] = Json::object();
        const auto by_kind = comparison.counts();
        for (const ChangeKind kind :
             {ChangeKind::none, ChangeKind::changed, ChangeKind::conditional,
              ChangeKind::not_resolvable, ChangeKind::not_comparable}) {
            const auto found = by_kind.find(kind);
            counts[std::string{analysis::name(kind)}] = found == by_kind.end() ? 0 : found->second;
        }
        counts["better"] = comparison.with(analysis::Sense::better);
        counts["worse"] = comparison.with(analysis::Sense::worse);
        Json& figures = one["figures"] = Json::array();
        for (const ComparedGroup& group : comparison.groups) {
            for (const ComparedRow& row : group.rows) {
                for (const ComparedFigure* figure : row.figures()) {
                    figures.push_back(figure_json(row.label, *figure));
                }
            }
        }
        one["only_before"] = comparison.only_before;
        one["only_after"] = comparison.only_after;
        all.push_back(std::move(one));
    }
    out["exit_status"] = exit_status(comparisons, runs, unreadable);
    return out;
}

}  // namespace afterload::runner
