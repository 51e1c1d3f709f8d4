/// Linear response, harmonic responses and distortion against frequency, from one sweep.
///
/// The record is divided by the sweep in the frequency domain; in the time that results, the linear
/// response begins at the arrival and harmonic k arrives earlier by growth · ln k. Each is cut out
/// with a window and transformed at the frequencies wanted. Nothing is smoothed over frequency: the
/// window is long (a second at the low end, half a second at the high, where the record has it), so
/// that only a response that rings longer than the window is blunted.
///
/// Source  A. Farina, AES 108th Convention, 2000, preprint 5093; A. Novak, P. Lotton, L. Simon,
///         JAES 63(10), 2015; the clock's share in the phase: group delay -δ·t(f).
#pragma once

#include "analysis/estimate.hpp"
#include "analysis/failure.hpp"
#include "analysis/quantity.hpp"
#include "analysis/sweep.hpp"
#include "analysis/sweep_clock.hpp"
#include "analysis/waveform.hpp"

#include <complex>
#include <cstdint>
#include <optional>
#include <vector>

namespace afterload::analysis {

struct SweptSettings {
    int points_an_octave = 24;  ///< on a grid through 1 kHz; both ends of the band are added
    int highest_order = 5;      ///< of harmonics; 1 for none
};

/// Linear response at one frequency.
struct SweptPoint {
    Hertz frequency;                ///< on the source's clock
    std::complex<double> response;  ///< volts of the record per volt of the stimulus
    Seconds group_delay;            ///< -dφ/dω, re the arrival
    double u_relative = 0.0;        ///< standard uncertainty of |response|, relative, from noise;
                                    ///< that of the phase in radians as well
};

/// Harmonic `order` of a fundamental.
struct SweptHarmonic {
    Hertz fundamental;
    double ratio = 0.0;  ///< amplitude re the fundamental at the output
    double phase = 0.0;  ///< φ_k - k·φ_1 of cosines, radians, as HarmonicRow
    double sigma = 0.0;  ///< standard deviation of the ratio from noise
};

struct SweptOrder {
    int order = 2;
    std::vector<SweptHarmonic> points;  ///< where order · fundamental lies in the band
};

/// Root of the sum of squares of the harmonics that lie in the band, re the fundamental.
struct SweptDistortion {
    Hertz frequency;
    Estimate ratio;
    int highest_order = 2;
};

struct SweptResponse {
    std::vector<SweptPoint> linear;  ///< rising in frequency; points in the noise are left out
    int in_noise = 0;                ///< how many were: u above half the reading
    std::vector<SweptOrder> harmonics;
    std::vector<SweptDistortion> distortion;  ///< where H2 and H3 both lie in the band
    /// Is the clock known well enough that `phase` and `group_delay` mean anything? Without pilots
    /// they do not.
    bool phase_known = false;
    std::optional<SweepClock> clock;
    /// Where in the record the stimulus' first sample arrived: the delay taken out of the phase. It
    /// is the one that leaves the phase of a minimum-phase unit (minimum_phase.hpp); where that is
    /// within a twentieth of whole samples, as when a file was filtered, whole samples exactly.
    Seconds delay;
    bool inverted = false;  ///< the polarity that a minimum-phase unit would have; stays in `phase`
    Seconds sweep_ends;     ///< in the record: when the last of the sweep arrived
};

/// Measures the response between `stimulus` and `record`, which holds it anywhere; both are volts
/// at one nominal rate, and `plan` says where in the stimulus the sweep and its pilots are.
///
/// Range   frequencies in plan.band, up to 0.45 of the rate, where the sweep has its full strength.
/// Harmonics   up to settings.highest_order while order · f is in that range; from where three
///         periods fit in the gap between the orders.
/// Noise   from what is left of the record when the responses are cut out. Points whose uncertainty
///         exceeds half their value are not given.
/// Fails   out_of_range: rates differ, samples are not finite. no_tone: the sweep is not in the
///         record. record_too_short: it ends before half of the sweep.
[[nodiscard]] Expected<SweptResponse> swept_response(WaveformView record, WaveformView stimulus,
                                                     const SweepPlan& plan,
                                                     const SweptSettings& settings = {});

}  // namespace afterload::analysis
