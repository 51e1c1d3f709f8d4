/// The keys of a soak, and what must hold within one.
#pragma once

#include "sequences/reading.hpp"
#include "sequences/soak.hpp"

#include <memory>
#include <vector>

namespace afterload::sequences {

/// Reads a soak: a mapping, or its duration alone, which soaks with a sine at an eighth of the
/// rated power. Null where it could not be read.
[[nodiscard]] std::shared_ptr<const Soak> read_soak(Reading& reading, const Node& node);

/// What stands beside a soak in its step.
void check_soak(Reading& reading, const Node& step_node);

[[nodiscard]] std::vector<KeyList> soak_key_lists();

}  // namespace afterload::sequences
