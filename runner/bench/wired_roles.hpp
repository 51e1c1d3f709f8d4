/// What the instruments that answer on a wire are to a bench: its meter, its generator, its relays,
/// its load.
#pragma once

#include "instruments/wire/wire_list.hpp"
#include "runner/interview/questions.hpp"

#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// Absent where the bench has none.
struct WiredRoles {
    std::optional<instruments::WireFound> meter;
    std::optional<instruments::WireFound> generator;
    std::optional<instruments::WireFound> relays;
    std::optional<instruments::WireFound> load;
};

/// Asks of each of `wires` that answered what it is; no role is given twice. Empty: the answers
/// ended.
[[nodiscard]] std::optional<WiredRoles> asked_roles(
    Questions& questions, const std::vector<instruments::WireFound>& wires);

/// Asks for the number of a relay; Enter: none, which means `otherwise`. Outer empty: the answers
/// ended.
[[nodiscard]] std::optional<std::optional<int>> asked_relay(Questions& questions,
                                                            const std::string& question,
                                                            const std::string& otherwise);

/// The lines `instruments:`, `meters:` and `relays:` of a bench file.
[[nodiscard]] std::string instrument_lines(const WiredRoles& roles);

}  // namespace afterload::runner
