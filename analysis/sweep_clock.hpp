/// How much faster the card's clock runs than the source's, from the pilots around a sweep.
#pragma once

#include "analysis/sweep.hpp"
#include "analysis/waveform.hpp"

#include <cstdint>
#include <optional>

namespace afterload::analysis {

struct SweepClock {
    /// Seconds of the stimulus in a second of the record, less 1: positive where the card's clock
    /// runs slow, so that every tone looks higher.
    double offset = 0.0;
    double u_k1 = 0.0;
    /// By how many samples the second pilot came later than the frequencies of both say, up to
    /// whole periods of the pilot; with its standard uncertainty. A timeline without slips has
    /// none. Absent without two pilots of one frequency.
    std::optional<double> slip;
    double slip_u_k1 = 0.0;
    /// Were samples lost or doubled between the pilots? More than half a one, and five times what
    /// is uncertain.
    [[nodiscard]] bool slipped() const;
};

/// The offset from the phases of two pilots of one frequency, one before and one after the sweep:
/// the difference of their phases over the known time between them, so that what the unit and its
/// transients do to either cancels. Their frequencies say how many whole turns to count. Of other
/// pilots the frequencies alone must do, and the uncertainty says what that costs.
///
/// Both record and stimulus are read, with one and the same fit at the same places.
/// Nothing where no pilot can be fitted in the record.
///
/// Units   `arrival` in samples: where the stimulus' first sample stands in the record.
[[nodiscard]] std::optional<SweepClock> sweep_clock(WaveformView record, WaveformView stimulus,
                                                    const SweepPlan& plan, std::int64_t arrival);

}  // namespace afterload::analysis
