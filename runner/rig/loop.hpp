/// The loop: the source's outputs on the sense leads, with no unit in between.
#pragma once

#include "analysis/tone.hpp"
#include "runner/driver.hpp"
#include "runner/operator.hpp"

#include <array>
#include <optional>
#include <string>

namespace afterload::runner {

/// Fails with `gate` where the bench file says `loop: none`.
[[nodiscard]] RunResult<void> loop_there(const sequences::BenchFile& bench);

/// Joins or parts it: a simulated bench by itself, any other by the person's hands. Muted before
/// and after. Fails with `person` where they do not do it, and as loop_there().
[[nodiscard]] instruments::Task<RunResult<void>> join_loop(Driver& driver, Operator& person,
                                                           bool joined);

/// Both inputs under one steady tone.
struct LoopTone {
    std::array<Waveform, 2> records;
    std::array<std::optional<analysis::ToneFit>, 2> fits;  ///< absent: no tone there
    std::vector<CaptureFault> reported;                    ///< by the card itself

    /// V rms that channel 0 or 1 reads, by the calibration as it stands; 0 without a tone.
    [[nodiscard]] double volts(std::size_t channel) const;
};

/// What is heard once what plays, or its end, has settled.
[[nodiscard]] instruments::Task<RunResult<instruments::Captured>> record_settled(Driver& driver,
                                                                                 Seconds length);

/// Plays `drive` and records `length` of it; what was played before is replaced, and it plays on.
[[nodiscard]] instruments::Task<RunResult<LoopTone>> look_at_loop(Driver& driver, ToneDrive drive,
                                                                  Seconds length);

/// The drive that a loop is looked at with: 1 V, less where source, house or `range` bear less.
[[nodiscard]] double loop_drive(const sequences::BenchFile& bench,
                                const sequences::RangeEntry& range);

/// Ranges with the safest first.
[[nodiscard]] std::vector<sequences::RangeEntry> ranges_safest_first(
    const sequences::BenchFile& bench);

}  // namespace afterload::runner
