/// From a swept response to figures: response, distortion and harmonics against frequency.
#pragma once

#include "analysis/capture_fault.hpp"
#include "analysis/figure.hpp"
#include "analysis/measure.hpp"
#include "analysis/swept_response.hpp"

#include <vector>

namespace afterload::analysis {

/// A channel's swept response with everything the figures need.
struct SweptRecord {
    const SweptResponse& response;
    int channel = 1;
    const BenchShare& bench;
    Conditions conditions;  ///< as driven; the figures add what they know
};

/// Is a capture of a sweep fit to judge? Told from its response, all channels alike.
///
/// too_short: the sweep had begun before the record did, or it ends before the sweep does.
/// gap, repeat: the second pilot came samples too early or too late; known modulo the pilot's
///   period. Without two pilots nothing is said.
[[nodiscard]] std::vector<CaptureFault> sweep_faults(const SweptResponse& response,
                                                     const SweepPlan& plan, Seconds record);
/// Why there is no response, as a fault: too_short, or silent where the sweep is not in the record.
[[nodiscard]] CaptureFault sweep_fault(const FigureFailure& failure);

/// Response re `reference`, dB, with the phase in degrees re the arrival where pilots tell the
/// clocks apart (swept_response.hpp), else without. The reference must be within 2 % of a point;
/// 1 kHz always is one. Beside noise and flatness u holds 0.001 dB for the method itself.
///
/// Details  delay, s: from the record's start to the arrival, taken out of the phase.
///          clock_offset, 1: seconds of the stimulus in a second of the record, less 1.
///          points_in_noise, 1: frequencies left out because noise exceeded half the reading.
///          reference_gain, dB: output over drive at the reference, where a bench knows both.
[[nodiscard]] Figure swept_frequency_response(const SweptRecord& swept, Hertz reference,
                                              double flatness_u_k1_db);

/// Distortion against frequency, a ratio, as far as H2 and H3 both lie in the band: `highest_order`
/// at the most, fewer where the band ends. Frequencies at which it cannot be told from noise are
/// left out and counted in points_in_noise.
[[nodiscard]] Figure swept_distortion(const SweptRecord& swept);

/// Harmonic `order` against the fundamental's frequency: ratio re the fundamental, and its phase
/// φ_k - k·φ_1 of cosines, degrees, where the clock is known. The order is conditions.highest_order
/// and the detail `order`. Below twice its own noise a point is left out.
[[nodiscard]] Figure swept_harmonic(const SweptRecord& swept, const SweptOrder& order);

}  // namespace afterload::analysis
