/// What a run would do, told without driving anything: time, heat and hands.
#pragma once

#include "runner/papers/bench_time.hpp"
#include "runner/run.hpp"

#include <array>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// Energy in joules, power in watts.
struct PlannedHeat {
    double about = 0.0;    ///< J: every level found at the first go, every record taken once
    double at_most = 0.0;  ///< J: with all retakes and further records, and every look on the way
                           ///< to a level as high as the level itself
    double highest = 0.0;  ///< W: the largest power that is asked for

    PlannedHeat& operator+=(const PlannedHeat& more);
};

struct PlannedStep {
    std::string name;
    std::string prompt;                ///< title of the prompt before it; empty: none
    std::string plays;                 ///< "tone, 13 frequencies, 1 W"; empty: nothing
    std::vector<std::string> answers;  ///< figures and readings, in words
    int records = 0;
    BenchTime about;
    Seconds at_most;                  ///< without the time a person takes
    std::array<PlannedHeat, 2> heat;  ///< into the loads, left and right
};

/// A load, and what all steps together may put into it.
struct PlannedLoad {
    std::string channel;  ///< "left"
    Ohms resistance;
    Watts continuous;
    PlannedHeat heat;
};

struct PlannedRun {
    std::string unit;      ///< maker and model
    std::string sequence;  ///< its title
    std::string bench;
    std::vector<PlannedStep> steps;
    std::vector<std::string> prompts;  ///< in the order in which they are asked
    std::vector<PlannedLoad> loads;    ///< of the channels that have one
    BenchTime about;
    Seconds at_most;
};

/// Follows the steps of a checked plan (review) as the engine would, with a unit of usual gain. The
/// bounds hold whatever the unit does; a run that stops early takes less.
[[nodiscard]] PlannedRun planned(const RunPlan& plan);

}  // namespace afterload::runner
