/// How a guardian begins: as a child of this program, or by a service.
#pragma once

#include "instruments/failure.hpp"

#include <string>
#include <sys/types.h>

namespace afterload::instruments {

/// Our end of the line to a guardian.
struct BegunGuardian {
    int own_end = -1;
    pid_t child = -1;  ///< -1: somebody else's
};

/// Starts `program`, or, where that is empty, has guardian_service() start one; where there is no
/// such service, starts the one beside this program's own. Fails with `lost` where it cannot be
/// started, or nobody is at the service's door.
[[nodiscard]] BenchResult<BegunGuardian> begin_guardian(const std::string& program);

}  // namespace afterload::instruments
