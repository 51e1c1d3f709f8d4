/// The text of a file named on the command line.
#pragma once

#include <tl/expected.hpp>

#include <string>

namespace afterload::runner {

/// Reads a file whole; "-" is standard input. A file over 1 MiB is not read: no file a person
/// writes for a bench is that long.
///
/// Fails   in one line: not there, a folder, too large.
[[nodiscard]] tl::expected<std::string, std::string> read_input(const std::string& path);

/// A sound file whole, up to 256 MiB, for what has to travel with a run.
[[nodiscard]] tl::expected<std::string, std::string> read_recording_bytes(const std::string& path);

}  // namespace afterload::runner
