#include "runner/compare/run_comparison.hpp"

#include "analysis/likeness.hpp"
#include "runner/papers/figure_rows.hpp"
#include "runner/papers/figure_words.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <limits>
#include <utility>

namespace afterload::runner {

namespace {

using analysis::ChangeKind;

/// A figure with its place: what a sheet has a row for.
struct Placed {
    const ScoredFigure* figure = nullptr;
    std::size_t step = 0;
};

std::size_t step_index(const RunDocument& run, const StepResult* step) {
    return static_cast<std::size_t>(step - run.steps.data());
}

std::vector<Placed> figures_of(const RunDocument& run, const std::vector<RowGroup>& groups) {
    std::vector<Placed> all;
    for (const RowGroup& group : groups) {
        for (const FigureRow& row : group.rows) {
            for (const ScoredFigure* figure : row.figures()) {
                all.push_back({figure, step_index(run, row.step)});
            }
        }
    }
    return all;
}

/// For each of `wanted` its fellow among `offered`, each offered once; empty where there is none.
/// First those of the same place in the sequence, then those measured alike, then what comes
/// nearest.
std::vector<std::optional<Placed>> fellows(const std::vector<Placed>& wanted,
                                           const std::vector<Placed>& offered) {
    std::vector<std::optional<Placed>> found(wanted.size());
    std::vector<bool> used(offered.size(), false);
    const auto take = [&](auto fits) {
        for (std::size_t i = 0; i < wanted.size(); ++i) {
            if (found[i]) {
                continue;
            }
            const ScoredFigure& own = *wanted[i].figure;
            std::size_t best = offered.size();
            std::size_t fewest = std::numeric_limits<std::size_t>::max();
            for (std::size_t j = 0; j < offered.size(); ++j) {
                const ScoredFigure& other = *offered[j].figure;
                if (used[j] || !analysis::same_point(other.figure, own.figure)) {
                    continue;
                }
                const std::size_t unlike =
                    analysis::unlike_conditions(other.figure, own.figure).size();
                if (fits(own, other, unlike) && unlike < fewest) {
                    best = j;
                    fewest = unlike;
                }
            }
            if (best < offered.size()) {
                found[i] = offered[best];
                used[best] = true;
            }
        }
    };
    take([](const ScoredFigure& own, const ScoredFigure& other, std::size_t unlike) {
        return own.id == other.id && unlike == 0;
    });
    take([](const ScoredFigure&, const ScoredFigure&, std::size_t unlike) { return unlike == 0; });
    take([](const ScoredFigure&, const ScoredFigure&, std::size_t) { return true; });
    return found;
}

std::string said(const Conditions& conditions, std::string_view key) {
    std::string words = condition_words(conditions, key);
    return words.empty() ? std::string{"not stated"} : words;
}

std::string why_unlike(const Figure& before, const Figure& after,
                       const std::vector<std::string_view>& keys) {
    std::vector<std::string> parts;
    for (const std::string_view key : keys) {
        const std::string was = said(before.conditions, key);
        const std::string is = said(after.conditions, key);
        parts.push_back(
            was == is ? fmt::format("other {}", key_words(key))
                      : fmt::format("other {}: {} before, {} after", key_words(key), was, is));
    }
    return fmt::format("{}", fmt::join(parts, "; "));
}

/// The scatter of each kind over runs of one stage.
using RepeatsByKind = std::map<FigureKind, analysis::Repeats>;

RepeatsByKind repeats_by_kind(const RunDocument& before, const RunDocument& after,
                              const std::vector<Placed>& anchors,
                              const std::vector<const RunDocument*>& all) {
    std::map<Stage, std::vector<const RunDocument*>> groups;
    for (const RunDocument* run : all) {
        const bool compared = run == &before || run == &after;
        if (!(compared && before.stage == after.stage)) {
            groups[run->stage].push_back(run);
        }
    }
    double freedom = 0.0;
    std::map<FigureKind, std::vector<std::vector<double>>> rows;
    for (const auto& [stage, runs] : groups) {
        if (runs.size() < 2) {
            continue;
        }
        freedom += static_cast<double>(runs.size() - 1);
        std::vector<std::vector<double>> values(anchors.size());
        for (const RunDocument* run : runs) {
            const auto sheet = figure_rows(*run);
            const auto found = fellows(anchors, figures_of(*run, sheet));
            for (std::size_t i = 0; i < anchors.size(); ++i) {
                const Figure* figure = found[i] ? &found[i]->figure->figure : nullptr;
                const bool usable =
                    figure != nullptr && figure->value &&
                    analysis::unlike_conditions(*figure, anchors[i].figure->figure).empty();
                if (usable) {
                    values[i].push_back(*figure->value);
                }
            }
        }
        for (std::size_t i = 0; i < anchors.size(); ++i) {
            if (!values[i].empty() && !anchors[i].figure->figure.curve) {
                rows[anchors[i].figure->figure.kind].push_back(std::move(values[i]));
            }
        }
    }
    RepeatsByKind own;
    for (const auto& [kind, of_kind] : rows) {
        if (const auto scatter = analysis::repeats(kind, of_kind, freedom)) {
            own[kind] = *scatter;
        }
    }
    return own;
}

std::optional<Limit> limit_of(const ScoredFigure& before, const ScoredFigure& after) {
    if (after.rating) {
        return after.rating->limit;
    }
    return before.rating ? std::optional{before.rating->limit} : std::nullopt;
}

/// The label of a curve names the worst point of one run; the other's lies elsewhere.
std::string without_frequency(const std::string& label) {
    const std::size_t digit = label.find_first_of("0123456789");
    const std::size_t end =
        digit == std::string::npos ? std::string::npos : label.find_last_not_of(" ,", digit - 1);
    return digit == std::string::npos || digit == 0 || end == std::string::npos
               ? label
               : label.substr(0, end + 1);
}

/// Left and right of one label once.
std::vector<std::string> labels(const std::vector<Placed>& alone) {
    std::vector<std::string> out;
    for (std::size_t i = 0; i < alone.size(); ++i) {
        const bool pair = i + 1 < alone.size() && !alone[i].figure->label.empty() &&
                          alone[i].figure->label == alone[i + 1].figure->label &&
                          alone[i].step == alone[i + 1].step;
        out.push_back(pair ? alone[i].figure->label : label_words(*alone[i].figure));
        i += pair ? 1 : 0;
    }
    return out;
}

}  // namespace

std::vector<const ComparedFigure*> ComparedRow::figures() const {
    std::vector<const ComparedFigure*> all;
    for (const auto* side : {&left, &right}) {
        if (*side) {
            all.push_back(&**side);
        }
    }
    return all;
}

std::map<ChangeKind, int> RunComparison::counts() const {
    std::map<ChangeKind, int> out;
    for (const ComparedGroup& group : groups) {
        for (const ComparedRow& row : group.rows) {
            for (const ComparedFigure* figure : row.figures()) {
                ++out[figure->difference.kind];
            }
        }
    }
    return out;
}

int RunComparison::with(analysis::Sense sense) const {
    int count = 0;
    for (const ComparedGroup& group : groups) {
        for (const ComparedRow& row : group.rows) {
            for (const ComparedFigure* figure : row.figures()) {
                count += figure->difference.kind == ChangeKind::changed &&
                                 figure->difference.sense == sense
                             ? 1
                             : 0;
            }
        }
    }
    return count;
}

std::string other_unit(const RunDocument& one, const RunDocument& other) {
    const auto differ = [](const char* what, const std::string& a, const std::string& b) {
        const auto shown = [](const std::string& text) {
            return text.empty() ? std::string{"none"} : text;
        };
        return fmt::format("{} {} in one run, {} in the other", what, shown(a), shown(b));
    };
    if (one.unit.maker != other.unit.maker) {
        return differ("maker", one.unit.maker, other.unit.maker);
    }
    if (one.unit.model != other.unit.model) {
        return differ("model", one.unit.model, other.unit.model);
    }
    if (one.serial != other.serial) {
        return differ("serial", one.serial, other.serial);
    }
    return {};
}

bool same_rig(const RunDocument& one, const RunDocument& other) {
    const sequences::CardEntry& a = one.bench.card;
    const sequences::CardEntry& b = other.bench.card;
    const auto draw = [](const RunDocument& run) {
        return run.simulation ? std::optional{run.simulation->rig_seed} : std::nullopt;
    };
    return a.name == b.name && a.driver == b.driver && a.device == b.device &&
           draw(one) == draw(other);
}

RunComparison compared(const RunDocument& before, const RunDocument& after,
                       const std::vector<const RunDocument*>& all) {
    RunComparison out;
    out.before = &before;
    out.after = &after;
    out.same_rig = same_rig(before, after);
    const auto sheet_before = figure_rows(before);
    const auto sheet_after = figure_rows(after);
    const std::vector<Placed> offered = figures_of(before, sheet_before);
    const std::vector<Placed> wanted = figures_of(after, sheet_after);
    const auto found = fellows(wanted, offered);
    const RepeatsByKind own = repeats_by_kind(before, after, wanted, all);
    for (const auto& [kind, scatter] : own) {
        out.repeats_freedom = scatter.degrees_of_freedom;
    }

    std::vector<Placed> alone;
    std::size_t next = 0;
    for (const RowGroup& group : sheet_after) {
        ComparedGroup compared_group{group.heading, group.conditions, {}};
        for (const FigureRow& row : group.rows) {
            ComparedRow made;
            const bool of_curves = unit_of(row.kind) == Unit::decibel &&
                                   std::ranges::any_of(row.figures(), [](const auto* figure) {
                                       return figure->figure.curve.has_value();
                                   });
            made.label = of_curves ? without_frequency(row.label) : row.label;
            made.kind = row.kind;
            made.single = row.single;
            for (const ScoredFigure* figure : row.figures()) {
                const std::size_t index = next++;
                if (!found[index]) {
                    alone.push_back(wanted[index]);
                    continue;
                }
                ComparedFigure pair{
                    found[index]->figure, figure, found[index]->step, wanted[index].step, {}};
                const auto unlike =
                    analysis::unlike_conditions(pair.before->figure, figure->figure);
                if (unlike.empty()) {
                    analysis::Between between;
                    between.same_rig = out.same_rig;
                    between.limit = limit_of(*pair.before, *figure);
                    if (const auto scatter = own.find(row.kind); scatter != own.end()) {
                        between.own = scatter->second;
                    }
                    pair.difference =
                        analysis::difference(pair.before->figure, figure->figure, between);
                } else {
                    pair.difference.reason =
                        why_unlike(pair.before->figure, figure->figure, unlike);
                }
                (figure == row.left ? made.left : made.right) = std::move(pair);
            }
            if (made.left || made.right) {
                compared_group.rows.push_back(std::move(made));
            }
        }
        if (!compared_group.rows.empty()) {
            out.groups.push_back(std::move(compared_group));
        }
    }
    out.only_after = labels(alone);
    alone.clear();
    for (const Placed& placed : offered) {
        const bool taken = std::any_of(found.begin(), found.end(), [&](const auto& fellow) {
            return fellow && fellow->figure == placed.figure;
        });
        if (!taken) {
            alone.push_back(placed);
        }
    }
    out.only_before = labels(alone);
    return out;
}

}  // namespace afterload::runner
