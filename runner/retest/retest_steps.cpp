#include "runner/retest/retest_steps.hpp"

#include "runner/evaluation/step_path.hpp"
#include "runner/papers/figure_rows.hpp"
#include "runner/papers/figure_words.hpp"
#include "sequences/diagnostic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <utility>
#include <vector>

namespace afterload::runner {
namespace {

using analysis::VerdictKind;
using sequences::Prompt;
using sequences::Step;

bool left_open(VerdictKind kind) {
    return kind == VerdictKind::fail || kind == VerdictKind::conditional_fail ||
           kind == VerdictKind::not_resolvable;
}

bool carried_out_for(const StepResult& result, const Step& step) {
    return step.soak ? result.name == step.name || result.within == step.name
                     : result.name == step.name && result.within.empty();
}

/// Why the step is to be measured again; empty where nothing of it is open.
std::vector<std::string> open_of(const Step& step, const RunDocument& earlier) {
    std::vector<std::string> because;
    bool reached = false;
    for (const StepResult& result : earlier.steps) {
        if (!carried_out_for(result, step)) {
            continue;
        }
        reached = true;
        if (!result.skipped.empty()) {
            because.push_back(result.skipped);
        }
        for (const ScoredFigure& entry : result.figures) {
            if (entry.verdict && left_open(entry.verdict->kind)) {
                because.push_back(fmt::format("{}: {}", label_words(entry),
                                              analysis::in_words(entry.verdict->kind)));
            }
        }
        if (result.soak && result.soak->state != "finished") {
            because.push_back("the soak did not come to its end");
        }
        for (const RunEvent* event : open_events(earlier)) {
            const bool own = std::any_of(result.events.begin(), result.events.end(),
                                         [&](const RunEvent& one) { return &one == event; });
            if (own) {
                because.push_back(fmt::format("an event that may be the unit’s: {}", event->kind));
            }
        }
    }
    const auto& done = earlier.retest;
    const bool meant =
        !done || std::any_of(done->steps.begin(), done->steps.end(),
                             [&](const StepAgain& one) { return one.step == step.name; });
    if (!reached && meant) {
        because.emplace_back("was not reached");
    }
    return because;
}

bool gates(const Step& step) {
    return std::any_of(step.meters.begin(), step.meters.end(),
                       [](const sequences::MeterRequest& request) { return request.gate; });
}

bool asks_for(const Step& step, FigureKind kind) {
    return std::any_of(
        step.figures.begin(), step.figures.end(),
        [&](const sequences::FigureRequest& request) { return request.figure == kind; });
}

/// The signal path of each step, as runs learn a path's gain by it.
std::vector<std::string> paths_of(const std::vector<Step>& steps) {
    std::vector<std::string> keys;
    StepPath path;
    for (const Step& step : steps) {
        path = path_after(path, step);
        keys.push_back(key_of(path));
    }
    return keys;
}

/// Indices of the steps that the one at `index` depends on.
std::vector<std::size_t> depended_on(const std::vector<Step>& steps,
                                     const std::vector<std::string>& paths, std::size_t index) {
    std::vector<std::size_t> found;
    const auto& after = steps[index].after;
    for (std::size_t i = 0; i < index; ++i) {
        if (gates(steps[i]) ||
            std::find(after.begin(), after.end(), steps[i].name) != after.end()) {
            found.push_back(i);
        }
    }
    for (std::size_t i = index; asks_for(steps[index], FigureKind::signal_to_noise) && i-- > 0;) {
        if (asks_for(steps[i], FigureKind::gain) && paths[i] == paths[index]) {
            found.push_back(i);
            break;
        }
    }
    return found;
}

/// One card of two: a control where the later has it, every check and caution once.
Prompt joined(const Prompt& earlier, const Prompt& later) {
    Prompt card = later;
    for (const auto& control : earlier.controls) {
        const bool again =
            std::any_of(later.controls.begin(), later.controls.end(),
                        [&](const auto& other) { return other.first == control.first; });
        if (!again) {
            card.controls.push_back(control);
        }
    }
    for (const auto list : {&Prompt::checks, &Prompt::cautions}) {
        for (const std::string& one : earlier.*list) {
            if (std::find((card.*list).begin(), (card.*list).end(), one) == (card.*list).end()) {
                (card.*list).push_back(one);
            }
        }
    }
    return card;
}

/// The path as the whole sequence would have it after `step`.
StepPath path_behind(const StepPath& before, const Step& step) {
    StepPath path = path_after(before, step);
    if (!step.for_each.volumes.empty()) {
        path.volume = step.for_each.volumes.back();
    }
    return path;
}

}  // namespace

RetestOf retest_of(const RunDocument& earlier, const sequences::Sequence& sequence) {
    const auto& steps = sequence.steps;
    std::vector<std::vector<std::string>> because(steps.size());
    std::vector<bool> wanted(steps.size(), false);
    for (std::size_t i = 0; i < steps.size(); ++i) {
        because[i] = open_of(steps[i], earlier);
        wanted[i] = !because[i].empty();
    }
    const std::vector<std::string> paths = paths_of(steps);
    // From the last to the first: what a step depends on stands before it.
    for (std::size_t i = steps.size(); i-- > 0;) {
        if (!wanted[i]) {
            continue;
        }
        for (const std::size_t needed : depended_on(steps, paths, i)) {
            wanted[needed] = true;
            because[needed].push_back(steps[i].name + " depends on it");
        }
    }
    RetestOf out;
    out.run = earlier.id;
    out.started = earlier.started;
    out.verdict = name(earlier.verdict);
    for (std::size_t i = 0; i < steps.size(); ++i) {
        if (wanted[i]) {
            out.steps.push_back({steps[i].name, std::move(because[i])});
        }
    }
    const auto again = [&](const StepResult& result) {
        return std::any_of(out.steps.begin(), out.steps.end(), [&](const StepAgain& one) {
            return one.step == result.name || one.step == result.within;
        });
    };
    for (const StepResult& result : earlier.steps) {
        for (const ScoredFigure& entry : result.figures) {
            if (entry.verdict && !again(result)) {
                out.stands.push_back({entry.id, label_words(entry),
                                      entry.rating ? entry.rating->id : std::string{},
                                      std::string{analysis::name(entry.verdict->kind)}});
            }
        }
    }
    if (earlier.retest) {
        out.stands.insert(out.stands.end(), earlier.retest->stands.begin(),
                          earlier.retest->stands.end());
    }
    return out;
}

tl::expected<sequences::Sequence, std::string> reduced(sequences::Sequence sequence,
                                                       const RetestOf& retest) {
    for (const StepAgain& wanted : retest.steps) {
        const bool there = std::any_of(sequence.steps.begin(), sequence.steps.end(),
                                       [&](const Step& step) { return step.name == wanted.step; });
        if (!there) {
            return tl::unexpected(
                fmt::format("the retest wants the step “{}”, which the sequence has not",
                            sequences::escaped(wanted.step)));
        }
    }
    std::vector<Step> kept;
    StepPath path;
    bool left_out = false;
    std::optional<Prompt> card;  // what the steps left out since the last kept one ask for
    for (Step& step : sequence.steps) {
        const StepPath at_step = path_after(path, step);
        path = path_behind(path, step);
        const bool wanted =
            std::any_of(retest.steps.begin(), retest.steps.end(),
                        [&](const StepAgain& one) { return one.step == step.name; });
        if (!wanted) {
            left_out = true;
            if (step.prompt) {
                card = card ? joined(*card, *step.prompt) : *step.prompt;
            }
            continue;
        }
        if (left_out) {
            step.input = at_step.input;
            step.output = at_step.output;
            step.path = at_step.path;
            step.volume = at_step.volume;
        }
        if (card) {
            step.prompt = step.prompt ? joined(*card, *step.prompt) : *card;
        }
        kept.push_back(std::move(step));
        left_out = false;
        card.reset();
    }
    sequence.steps = std::move(kept);
    return sequence;
}

}  // namespace afterload::runner
