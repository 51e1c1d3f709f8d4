/// The record that a command looks at: a folder's own, brought up to date, or the daemon's.
#pragma once

#include "runner/options.hpp"
#include "runner/record/run_record.hpp"

#include <tl/expected.hpp>

#include <string>

namespace afterload::runner {

/// The record of the folder `runs`, or the status to leave with, why being said.
[[nodiscard]] tl::expected<RunRecord, int> open_record(const std::string& runs,
                                                       const OutputOptions& output);

/// What a person should know of the folders, on standard error.
void tell(const FoundRuns& done);

/// The record of `runs` brought up to date; with `runs` empty that of the daemon behind `socket`,
/// which keeps it so, else that of the folder runs. A record that another process has open is read
/// as that process left it.
[[nodiscard]] tl::expected<RunRecord, int> record_to_read(const std::string& runs,
                                                          const std::string& socket,
                                                          const OutputOptions& output);

}  // namespace afterload::runner
