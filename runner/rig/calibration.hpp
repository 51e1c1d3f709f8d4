/// Calibration as a shop can do it: one meter on the source's outputs, then the loop.
///
/// A meter that is right at 333 Hz gives the source's level; through the loop that gives every
/// range's. What the meter is off by is in all of them, once. Flatness over frequency comes from
/// the loop alone, since few meters are flat.
#pragma once

#include "runner/driver.hpp"
#include "runner/operator.hpp"
#include "sequences/rig_file.hpp"

#include <functional>
#include <string>

namespace afterload::runner {

struct CalibrationSettings {
    std::string meter = "meter";  ///< its name, for the budget
    double meter_u_k1 = 0.005;    ///< relative standard uncertainty at 333 Hz
    double ohms_u_k1 = 0.005;     ///< the same of a resistance of some ohms, leads taken off
    std::string today;            ///< 2026-03-02
    std::vector<sequences::MixerControl> mixer;
    std::function<void(const std::string&)> say;  ///< a line of what was found
};

/// Guides through it and gives what was found. The bench is muted when it returns.
///
/// The meter is read where the bench has one that reads source_voltage, load_resistance; else what
/// it shows is typed in. A load that nobody reads stays as the bench file has it. Fails with `gate`
/// where a reading cannot be right (no AC volts, a factor of two off, a lead that is off, a load
/// that is another).
/// Source  root sum of squares of the meter's uncertainty and the loop's (GUM 5.1.2).
[[nodiscard]] instruments::Task<RunResult<sequences::CalibrationFound>> calibrate_bench(
    Driver& driver, Operator& person, CalibrationSettings settings);

}  // namespace afterload::runner
