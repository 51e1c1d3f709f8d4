/// A file of hint rules (`afterload: hints/1`) from its text, and the rules that ship.
#pragma once

#include "sequences/diagnostic.hpp"
#include "sequences/hint_rules.hpp"

#include <tl/expected.hpp>

#include <string>
#include <string_view>

namespace afterload::sequences {

/// Reads a file of hint rules. It is laid over `under`, whose facts it may use; null: it stands
/// alone.
///
/// Fails   with every mistake of the file; never throws. `path` is only named in the mistakes.
[[nodiscard]] tl::expected<HintRules, Diagnostics> read_hints(std::string_view text,
                                                              std::string path,
                                                              const HintRules* under = nullptr);

/// The text of sequences/shipped/first.hints.yaml, as it was when the program was built.
[[nodiscard]] std::string_view shipped_hints_text();
/// The rules in it.
[[nodiscard]] const HintRules& shipped_hints();

}  // namespace afterload::sequences
