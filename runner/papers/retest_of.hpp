/// What a run that measures again only what an earlier one left open says of itself: which run that
/// was, what is measured again and why, and what stands as it was.
#pragma once

#include <string>
#include <vector>

namespace afterload::runner {

/// The role of that document among a run's input files.
inline constexpr const char* role_retest = "retest";

/// A step that is carried out again.
struct StepAgain {
    std::string step;
    /// "THD 1 W, 1 kHz, left: fail", "was not reached", "power depends on it".
    std::vector<std::string> because;
};

/// A figure that is not measured again.
struct FigureThatStands {
    std::string id;
    std::string label;   ///< "THD 1 W, 1 kHz, left"
    std::string rating;  ///< id of what it was held against
    std::string verdict;
};

struct RetestOf {
    std::string run;  ///< id
    std::string started;
    std::string verdict;
    std::vector<StepAgain> steps;
    std::vector<FigureThatStands> stands;

    /// How many of those that stand have which verdict: "28 pass, 1 not comparable".
    [[nodiscard]] std::string standing() const;
};

}  // namespace afterload::runner
