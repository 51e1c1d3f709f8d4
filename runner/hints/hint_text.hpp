/// Hints as a terminal shows them: a few lines on a sheet, all of them with what speaks for and
/// against, and those of one figure.
#pragma once

#include "runner/hints/hints.hpp"
#include "runner/papers/terminal_text.hpp"

#include <cstddef>
#include <string>
#include <string_view>

namespace afterload::runner {

/// Of a text that a person wrote into a file of hints, no more than this is shown: characters.
inline constexpr std::size_t longest_hint_text = 400;

/// "left: idle current of the output stage (high)": whose, where to look, how sure.
[[nodiscard]] std::string hint_line(const Hint& hint);

/// For a sheet: where to look first, the first hint with its meaning and its test, two more in a
/// line each; empty when there are none. `run_path` is named for the rest; empty: it is not.
[[nodiscard]] std::string look_first(const Hints& hints, std::string_view run_path,
                                     const Terminal& terminal);

/// Every hint with its evidence and counter-evidence, then what was set aside.
[[nodiscard]] std::string hints_text(const Hints& hints, const Terminal& terminal);

/// Those that a failed figure may come from; empty when there are none.
[[nodiscard]] std::string hints_of_figure(const Hints& hints, std::string_view figure_id,
                                          const Terminal& terminal);

}  // namespace afterload::runner
