/// Takes a record that is fit to judge, or says that there is none: retakes within bounds, level
/// events kept.
#pragma once

#include "runner/driver.hpp"
#include "runner/evaluation/measured_record.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/run_folder.hpp"

#include <array>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// Captures at most for one record.
inline constexpr int most_captures = 5;
/// Waited once for a level that has not settled.
inline constexpr Seconds further_settling{1.0};

struct AcquireRequest {
    Seconds length;
    std::array<bool, 2> seen{true, true};  ///< channels that show what is played
    std::optional<Hertz> mains;
    DrivenAs driven;
    /// Played anew before each take, where a record must hold the whole of it; absent: what plays
    /// goes on.
    std::optional<StimulusDrive> stimulus;
    ExpectedOutput expected{};
    std::string stem;  ///< file name within the folder, without ending
};

/// What was set aside on the way to the record.
struct Acquired {
    MeasuredRecord measured;
    std::vector<Retake> retakes;
    std::vector<RunEvent> events;
};

/// Records, checks, and stores. A capture with a fault that the rig caused is taken again, at most
/// three times; one that has not settled gets another second first. A level event with the timeline
/// intact is not taken away: it stands as an event, the record is taken once more, and when the
/// level moves again the record is marked unstable. Takes no more than five captures in all.
[[nodiscard]] instruments::Task<RunResult<Acquired>> acquire(Driver& driver,
                                                             const RunFolder& folder,
                                                             AcquireRequest request);

}  // namespace afterload::runner
