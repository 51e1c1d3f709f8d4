/// The daemon's settings file (`afterload: daemon/1`) from its text.
#pragma once

#include "sequences/daemon_file.hpp"
#include "sequences/diagnostic.hpp"

#include <tl/expected.hpp>

#include <string>
#include <string_view>

namespace afterload::sequences {

/// Fails   with every mistake of the file; never throws. `path` is only named in the mistakes and
///         kept in the result.
[[nodiscard]] tl::expected<DaemonFile, Diagnostics> read_daemon(std::string_view text,
                                                                std::string path);

}  // namespace afterload::sequences
