/// Exit statuses of the command line: the run's own 0 to 3, and those of sysexits.h.
#pragma once

namespace afterload::runner {

inline constexpr int exit_pass = 0;
inline constexpr int exit_fail = 1;
inline constexpr int exit_inconclusive = 2;  ///< of analyze: a capture that is not sound
inline constexpr int exit_stopped = 3;
inline constexpr int exit_usage = 64;         ///< EX_USAGE: the words of the command line
inline constexpr int exit_bad_input = 65;     ///< EX_DATAERR: a file that cannot be used
inline constexpr int exit_no_input = 66;      ///< EX_NOINPUT: a file that is not there
inline constexpr int exit_no_device = 69;     ///< EX_UNAVAILABLE: an instrument that is not there
inline constexpr int exit_internal = 70;      ///< EX_SOFTWARE
inline constexpr int exit_cannot_write = 73;  ///< EX_CANTCREAT

}  // namespace afterload::runner
