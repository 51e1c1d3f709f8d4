/// Where programs of one user find each other: locks, and the doors of guardians.
#pragma once

#include <string>
#include <string_view>

namespace afterload::instruments {

/// $XDG_RUNTIME_DIR/afterload, else a folder of the user's own among the temporary ones; made where
/// it is missing, for the user alone. Throws std::system_error where it cannot be, or is somebody
/// else's.
[[nodiscard]] std::string runtime_folder();

/// $AFTERLOAD_GUARDIAN: the socket of a service that starts a guardian for each program that
/// connects; empty: there is none.
[[nodiscard]] std::string guardian_service();

/// A connection to the socket `path`, which the caller closes; negative: the errno of why there is
/// none (ENAMETOOLONG for a path that no socket can have).
[[nodiscard]] int connect_to_door(const std::string& path);

/// A lock on an instrument's identity, held until the descriptor is closed. -1: another program
/// holds it.
[[nodiscard]] int lock_instrument(std::string_view identity);

}  // namespace afterload::instruments
