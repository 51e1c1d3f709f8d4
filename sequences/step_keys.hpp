/// The keys of a step and of what stands in it, and what must hold within one step.
#pragma once

#include "sequences/reading.hpp"
#include "sequences/sequence.hpp"

#include <vector>

namespace afterload::sequences {

/// Reads a step and checks what can be checked in it alone: a tone has a frequency and a level, a
/// figure is one that the step's signal can answer.
[[nodiscard]] std::optional<Step> read_step(Reading& reading, const Node& node);

/// Names of shipped cautions, or texts.
[[nodiscard]] std::vector<std::string> read_cautions(Reading& reading, const Node& node);

[[nodiscard]] std::vector<KeyList> step_key_lists();

}  // namespace afterload::sequences
