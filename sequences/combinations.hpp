/// What a step does once for every combination of its lists.
#pragma once

#include "sequences/sequence.hpp"

#include <optional>
#include <string>
#include <vector>

namespace afterload::sequences {

/// One combination of a step's repetition; where a list is empty, the step's own value.
struct Combination {
    Channels driven = Channels::both;
    std::optional<StepLevel> level;
    std::optional<Hertz> frequency;
    bool open = false;          ///< no load is connected
    std::optional<Ohms> load;   ///< asked for by name; absent: the bench's first
    std::string volume;         ///< mark to be set behind a prompt; empty: as it stands
    std::string tone_controls;  ///< "flat", "bass maximum"; empty: as they stand
};

/// All of them in the order in which they are carried out: tone controls and volume first, since a
/// person sets them, then loads, channels, levels and frequencies, the last fastest. At least one.
[[nodiscard]] std::vector<Combination> combinations(const Step& step);

}  // namespace afterload::sequences
