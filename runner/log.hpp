/// What the daemon tells whoever keeps its journal; the one door to spdlog.
///
/// Text is escaped before it is written: a peer's words cannot forge a line.
#pragma once

#include <tl/expected.hpp>

#include <string>
#include <string_view>

namespace afterload::runner {

/// Where the lines go from now on: "stderr", "journal", or the path of a file. Fails, in one line,
/// where the file cannot be opened; the former place is kept then.
[[nodiscard]] tl::expected<void, std::string> log_to(const std::string& where);

void log_info(std::string_view text);
void log_warning(std::string_view text);
void log_error(std::string_view text);

}  // namespace afterload::runner
