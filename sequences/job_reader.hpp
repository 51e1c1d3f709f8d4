/// A job file (`afterload: job/1`) from its text.
#pragma once

#include "sequences/diagnostic.hpp"
#include "sequences/job.hpp"

#include <tl/expected.hpp>

#include <string>
#include <string_view>

namespace afterload::sequences {

/// Reads a job file.
///
/// Fails   with every mistake of the file; never throws. `path` is only named in the mistakes and
///         kept in the result.
[[nodiscard]] tl::expected<Job, Diagnostics> read_job(std::string_view text, std::string path);

}  // namespace afterload::sequences
