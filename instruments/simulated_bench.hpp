/// A bench on which everything is simulated: no hardware, known answers, virtual time.
///
/// Time stands still except while somebody sleeps or records. Recording never skips a sample, and
/// what plays is continuous from play() on. Sleeps of up to two seconds are computed in full; of a
/// longer one the beginning is computed (what the unit delivers heats it), then heat, bias, offset
/// and mains are advanced alone, and its last second is computed, so that every filter and rail has
/// settled when it ends.
///
/// The hands know these controls and positions:
///
///     volume    maximum, zero, or a mark below maximum: "-20 dB"
///     path      direct, tone               (also: tone to "defeat" or "flat")
///     bass      centre, maximum, minimum
///     treble    centre, maximum, minimum
///     input     line, phono
///     speakers  A, B
///     output    speaker_a, speaker_b, pre_out, headphone: where load and sense leads are clipped
///     leads     unit, loop: the sense leads on the unit, or on the source's outputs
///     range     the name of a range
#pragma once

#include "instruments/bench.hpp"
#include "instruments/simulation.hpp"

#include <memory>

namespace afterload::instruments {

/// What the bench would have suffered so far: for tests of limits, never for a figure.
struct Strain {
    double worst_range_use = 0.0;  ///< largest |terminal volts| over the safe volts of its range
    double worst_output = 0.0;     ///< largest |terminal volts| seen, V
    Joules into_left;              ///< energy that each load has turned into heat
    Joules into_right;
    bool driven = false;  ///< does the source play now?
    bool powered = true;  ///< has the unit its mains?
};

class SimulatedBench : public Bench {
public:
    [[nodiscard]] virtual Strain strain() const = 0;
};

/// Opens the bench: muted, loads not connected, the range with the highest safe voltage, volume at
/// maximum, direct path, line input, speakers and leads at A.
///
/// Fails  std::invalid_argument: a fault that nobody knows, a severity outside 0 … 1, no range, a
/// rate
///        outside 32 kHz … 192 kHz, bits outside 16 … 32, a power, load or voltage that is not
///        positive.
[[nodiscard]] std::unique_ptr<SimulatedBench> open_simulated_bench(const Simulation& simulation);

}  // namespace afterload::instruments
