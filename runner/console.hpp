/// What a command prints to: results on standard output, everything else on standard error.
#pragma once

#include "runner/options.hpp"
#include "runner/papers/terminal_text.hpp"

#include <string>
#include <string_view>

namespace afterload::runner {

/// Width, styles and letters of the terminal behind standard output; 80 plain columns in a pipe.
/// Styles are off for NO_COLOR, TERM=dumb and --color=never.
[[nodiscard]] Terminal output_terminal(const OutputOptions& options);
/// The same for standard error.
[[nodiscard]] Terminal error_terminal(const OutputOptions& options);

void print(std::string_view text);        ///< to standard output
void print_error(std::string_view text);  ///< to standard error

/// One line about why nothing was done: on standard error, or as JSON on standard output with
/// --json. Gives `exit_status` back.
int refuse(const OutputOptions& options, const std::string& what, int exit_status);

}  // namespace afterload::runner
