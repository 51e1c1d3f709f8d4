/// A bench file from what is there and what a person says of the wiring.
#pragma once

#include "instruments/card/card_list.hpp"
#include "instruments/wire/wire_list.hpp"
#include "runner/interview/questions.hpp"

#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// Those of `cards` that play and record at a common rate, at 192 kHz at the most.
[[nodiscard]] std::vector<instruments::CardFound> bench_cards(
    const std::vector<instruments::CardFound>& cards);

/// Asks what is wired to what and gives the file's text, with comments, which read_bench() takes.
/// `cards` are bench_cards(), at least one. Empty: the answers ended.
[[nodiscard]] std::optional<std::string> bench_asked_for(
    Questions& questions, const std::vector<instruments::CardFound>& cards,
    const std::vector<instruments::WireFound>& wires, const std::string& today);

}  // namespace afterload::runner
