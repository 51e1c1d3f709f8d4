/// A scenario as data: a unit with faults on a bench, what must fail and what must not.
#pragma once

#include "runner/papers/run_document.hpp"
#include "tests/support/simulated_run.hpp"

#include <string>
#include <vector>

namespace afterload::test {

/// A figure as a scenario names it: "thd", "thd left", "thd right at 1 W", "frequency_response,
/// tone path". Every word narrows: a figure's kind, a channel, a level after "at", a frequency
/// after "near", a group after "in".
struct FigurePattern {
    std::string text;
    [[nodiscard]] bool matches(const runner::StepResult& step,
                               const runner::ScoredFigure& scored) const;
};

struct Scenario {
    std::string name;
    std::string file;
    SimulatedRun run;
    std::vector<sequences::FaultEntry> faults;
    std::string verdict;  ///< of the run
    std::string hint;  ///< family of the hint that comes first; "none": there is none; empty: any
    std::string stop_reason;           ///< words that the reason of a stop must hold
    std::vector<FigurePattern> fails;  ///< each: at least one such figure fails
    /// Each: at least one such figure fails conditionally, since the rig cannot be cleared.
    std::vector<FigurePattern> in_doubt;
    std::vector<FigurePattern>
        stays_good;  ///< each: there is such a figure, and none of them fails
};

/// Reads a scenario file. Throws std::runtime_error with every mistake.
[[nodiscard]] Scenario read_scenario(const std::string& path);

/// All scenario files of fixtures/scenarios, in the order of their names.
[[nodiscard]] std::vector<std::string> scenario_files();

/// What the run says against the scenario, one line each; empty when all is as it must be.
[[nodiscard]] std::vector<std::string> objections(const Scenario& scenario,
                                                  const runner::RunDocument& run);

}  // namespace afterload::test
