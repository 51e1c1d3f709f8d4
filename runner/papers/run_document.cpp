#include "runner/papers/run_document.hpp"

#include <array>
#include <utility>

namespace afterload::runner {

namespace {

template <class Enum, std::size_t size>
using Names = std::array<std::pair<Enum, std::string_view>, size>;

constexpr Names<Stage, 4> stage_names{{{Stage::as_received, "as_received"},
                                       {Stage::repaired, "repaired"},
                                       {Stage::soaked, "soaked"},
                                       {Stage::cold, "cold"}}};
constexpr Names<RunState, 4> state_names{{{RunState::running, "running"},
                                          {RunState::done, "done"},
                                          {RunState::stopped, "stopped"},
                                          {RunState::interrupted, "interrupted"}}};
constexpr Names<RunVerdict, 4> verdict_names{{{RunVerdict::pass, "pass"},
                                              {RunVerdict::fail, "fail"},
                                              {RunVerdict::inconclusive, "inconclusive"},
                                              {RunVerdict::stopped, "stopped"}}};
constexpr Names<Blame, 4> blame_names{{{Blame::unit, "unit"},
                                       {Blame::rig, "rig"},
                                       {Blame::unit_or_lead, "unit_or_lead"},
                                       {Blame::unit_or_mains, "unit_or_mains"}}};

template <class Enum, std::size_t size>
std::string_view name_in(const Names<Enum, size>& names, Enum wanted) {
    for (const auto& [value, text] : names) {
        if (value == wanted) {
            return text;
        }
    }
    return "unknown";
}

template <class Enum, std::size_t size>
std::optional<Enum> value_in(const Names<Enum, size>& names, std::string_view wanted) {
    for (const auto& [value, text] : names) {
        if (text == wanted) {
            return value;
        }
    }
    return std::nullopt;
}

}  // namespace

std::string_view name(Stage stage) {
    return name_in(stage_names, stage);
}
std::string_view name(RunState state) {
    return name_in(state_names, state);
}
std::string_view name(RunVerdict verdict) {
    return name_in(verdict_names, verdict);
}
std::string_view name(Blame blame) {
    return name_in(blame_names, blame);
}

std::optional<Stage> stage(std::string_view name) {
    return value_in(stage_names, name);
}
std::optional<RunState> run_state(std::string_view name) {
    return value_in(state_names, name);
}
std::optional<RunVerdict> run_verdict(std::string_view name) {
    return value_in(verdict_names, name);
}
std::optional<Blame> blame(std::string_view name) {
    return value_in(blame_names, name);
}

int exit_status(const RunDocument& run) {
    switch (run.verdict) {
        case RunVerdict::pass:
            return 0;
        case RunVerdict::fail:
            return 1;
        case RunVerdict::inconclusive:
            return 2;
        case RunVerdict::stopped:
            return 3;
    }
    return 3;
}

std::vector<const RunEvent*> open_events(const RunDocument& run) {
    std::vector<const RunEvent*> open;
    for (const StepResult& step : run.steps) {
        for (const RunEvent& event : step.events) {
            // What the mains meter itself saw is the mains' and nobody else's.
            const bool of_the_mains = event.kind == "mains" || event.kind == "mains_voltage_away";
            if (step.soak && !event.reaction.empty() && event.blame != Blame::rig &&
                !of_the_mains) {
                open.push_back(&event);
            }
        }
    }
    return open;
}

void conclude(RunDocument& run) {
    using analysis::VerdictKind;
    std::map<std::string, int> counts;
    for (const VerdictKind kind :
         {VerdictKind::pass, VerdictKind::conditional_pass, VerdictKind::conditional_fail,
          VerdictKind::fail, VerdictKind::not_resolvable, VerdictKind::not_comparable}) {
        counts[std::string{analysis::name(kind)}] = 0;
    }
    int scored = 0;
    int good = 0;
    int failed = 0;
    int assumed = 0;
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& entry : step.figures) {
            if (!entry.verdict) {
                continue;
            }
            const VerdictKind kind = entry.verdict->kind;
            ++counts[std::string{analysis::name(kind)}];
            if (!entry.figure.assumed.empty()) {
                ++assumed;
            }
            if (kind == VerdictKind::not_comparable) {
                continue;
            }
            ++scored;
            good += kind == VerdictKind::pass || kind == VerdictKind::conditional_pass ? 1 : 0;
            failed += kind == VerdictKind::fail ? 1 : 0;
        }
    }
    counts["assumed"] = assumed;
    counts["not_tested"] = static_cast<int>(run.not_tested.size());
    run.counts = std::move(counts);

    if (run.state == RunState::stopped || run.state == RunState::interrupted) {
        run.verdict = RunVerdict::stopped;
    } else if (failed > 0) {
        run.verdict = RunVerdict::fail;
    } else if (scored > 0 && good == scored && open_events(run).empty()) {
        run.verdict = RunVerdict::pass;
    } else {
        run.verdict = RunVerdict::inconclusive;
    }
}

}  // namespace afterload::runner
