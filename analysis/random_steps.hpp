/// Random steps in the noise of an idle unit: popcorn noise (a junction that jumps between two
/// levels) and crackle (short clicks), each with its moment and size.
///
/// The spectrum of the record itself says what its noise is like; the record is held against a step
/// and against a click with every frequency weighted by how quiet it is there (a matched filter in
/// noise of any colour). What stands 6.5 deviations above the rest of the filter's output is taken
/// for an event, taken off, and the rest is looked at again.
#pragma once

#include "analysis/failure.hpp"
#include "analysis/quantity.hpp"
#include "analysis/quiet_record.hpp"

#include <vector>

namespace afterload::analysis {

struct RandomEvent {
    Seconds at;          ///< from the record's start
    double volts = 0.0;  ///< of a step: by how much the level jumped; of a click: its peak
};

struct RandomSteps {
    std::vector<RandomEvent> steps;   ///< in the order of time
    std::vector<RandomEvent> clicks;  ///< pulses of about a fifth of a millisecond or shorter
    double smallest_step = 0.0;       ///< V; a lone one of this size is found 19 times out of 20
    double smallest_click = 0.0;      ///< V
    Seconds watched;                  ///< the middle nine tenths of the record
    bool crowded = false;             ///< the search ended at its bound: there are more
};

/// Deviations of the filter's output above which an event is one.
inline constexpr double random_step_threshold = 6.5;

/// Events are counted to this many a record.
inline constexpr int most_random_events = 2000;

/// False alarms: in Gaussian noise of any colour, hum lines present or not, fewer than one in ten
/// thousand records of a second. Events closer than half a millisecond, or beside one of four times
/// their size within five, may be taken for one.
///
/// Units   seconds, volts.
/// Shape   at least 0.25 s at 8 kHz or more.
/// Fails   record_too_short, out_of_range.
/// Source  matched filter in coloured noise: Helstrom, Statistical Theory of Signal Detection,
/// 1960;
///         popcorn noise as a random telegraph signal.
[[nodiscard]] Expected<RandomSteps> random_steps(const QuietRecord& record);

}  // namespace afterload::analysis
