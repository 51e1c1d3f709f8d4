/// A bench file from what is there and what a person says of the wiring.
#pragma once

#include "instruments/card/card_list.hpp"
#include "instruments/wire/wire_list.hpp"
#include "runner/bench/questions.hpp"

#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// Asks what is wired to what and gives the file's text, with comments, which read_bench() takes.
/// `cards` holds at least one that plays and records. Empty: the answers ended.
[[nodiscard]] std::optional<std::string> bench_asked_for(
    Questions& questions, const std::vector<instruments::CardFound>& cards,
    const std::vector<instruments::WireFound>& wires, const std::string& today);

}  // namespace afterload::runner
