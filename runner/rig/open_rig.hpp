/// What calibrate and rig-check have in common: the bench file read with its rig file, the bench
/// opened, the work done, the rig file written anew.
#pragma once

#include "runner/driver.hpp"
#include "runner/operator.hpp"
#include "runner/options.hpp"
#include "sequences/rig_file.hpp"

#include <functional>

namespace afterload::runner {

/// Works on the bench and on what is known of the rig. True: the rig file is to be written.
using RigWork = std::function<instruments::Task<RunResult<bool>>(Driver& driver, Operator& person,
                                                                 sequences::RigFile& rig)>;

/// Gives the exit status: 0, or that of what was in the way.
[[nodiscard]] int work_on_rig(const std::string& bench_path, const OutputOptions& output,
                              const RigWork& work);

}  // namespace afterload::runner
