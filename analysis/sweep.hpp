/// The synchronised sweep that ships, and where everything in a swept stimulus lies in time.
///
/// Source  A. Farina, AES 108th Convention, 2000, preprint 5093; A. Novak, P. Lotton, L. Simon,
///         JAES 63(10), 2015, 786-798.
#pragma once

#include "analysis/quantity.hpp"
#include "analysis/stimulus.hpp"

#include <vector>

namespace afterload::analysis {

/// A steady tone before or after a sweep: two of one frequency tell how much faster the card's
/// clock runs than the source's.
struct SweepPilot {
    Hertz frequency;
    Seconds start;   ///< of the part that is steady, without its fades
    Seconds length;  ///< of that part
};

/// What a stimulus with one sweep holds, in time from its start on the source's clock.
///
/// The sweep is sin(2π · low · growth · e^{(t - start)/growth} + phase) under an envelope. Harmonic
/// k of it arrives growth · ln k before the linear response.
struct SweepPlan {
    Seconds begin;  ///< from here to `end` nothing but the sweep sounds, fades included
    Seconds end;
    Seconds start;  ///< when the frequency is `low`
    Hertz low;
    Hertz high;      ///< frequency at which the sweep stops
    Seconds growth;  ///< time for an e-fold frequency; 0: this is no exponential sweep
    Radians phase;
    Band band;  ///< where a response is wanted; the sweep reaches beyond
    std::vector<SweepPilot> pilots;
    Seconds tail;    ///< silence after `end` in which the unit's response dies away
    Seconds length;  ///< of the whole stimulus

    /// When the sweep passes `frequency`.
    [[nodiscard]] Seconds passes(Hertz frequency) const;
    /// How long before the linear response that of harmonic `order` arrives: growth · ln(order).
    [[nodiscard]] Seconds lead(int order) const;
};

/// The e-fold time of a synchronised sweep of about `about` from `low` to `high`: low · growth is
/// the whole number, at least 1, nearest to what `about` asks for.
/// Source  Novak, Lotton, Simon 2015.
[[nodiscard]] Seconds synchronised_growth(Hertz low, Hertz high, Seconds about);

/// The sweep that ships: a pilot of 997 Hz for a quarter of a second, a gap, the sweep from an
/// octave below `low` to nine hundredths above `high`, half a second for the unit's tail, the pilot
/// again. It fades in over half an octave and out from `high` on, so that `low` … `high` is swept
/// at full amplitude. With `high` at 0.45 of a rate it ends at 0.49.
///
/// Shape   0 < low < high; about > 0. What rounding to whole cycles leaves of `about` is in the
///         plan: at least ln(high/low)/low, 1.7 s from 10 Hz.
[[nodiscard]] SweepPlan shipped_sweep_plan(Hertz low, Hertz high, Seconds about);

/// What `shipped_sweep_plan` describes, `amplitude` volts peak open circuit.
[[nodiscard]] Stimulus shipped_sweep(Hertz low, Hertz high, Seconds about, VoltsPeak amplitude,
                                     bool left, bool right);

}  // namespace afterload::analysis
