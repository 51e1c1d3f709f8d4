/// The band over which half of the rated power comes with no more than the rated distortion.
///
/// Source  IEC 60268-3, distortion-limited effective frequency range: output 3 dB below rated,
///         rated distortion not exceeded.
#pragma once

#include "analysis/distortion_limit.hpp"
#include "analysis/harmonic.hpp"
#include "analysis/measure.hpp"

#include <vector>

namespace afterload::analysis {

/// One frequency that was tried.
struct PowerBandwidthPoint {
    Hertz frequency;
    Watts power;
    double thd = 0.0;         ///< ratio; 0: below everything
    double u_relative = 0.0;  ///< of `thd`, or of `power` where that decides: by noise, k = 1
    /// Relative change of `thd` per relative change of level, without its sign; 0 unknown. The
    /// level at the point is as uncertain as the bench's volts and load.
    double level_slope = 0.0;
};

/// What a record driven to half the rated power says of its frequency. The slope is that of its
/// harmonics while the distortion is weak: the k-th goes with the level to the power of k - 1.
///
/// Power and distortion are 0 where the record or its bench does not tell them.
[[nodiscard]] PowerBandwidthPoint point_at_half_power(const ToneRecord& tone,
                                                      const HarmonicBand& band);

/// What a record driven until the rated distortion says: its power at that distortion.
[[nodiscard]] PowerBandwidthPoint point_at_distortion(const ToneRecord& tone,
                                                      const DistortionApproach& approach);

struct PowerBandwidthSettings {
    /// What decides: the distortion of points driven to half the rated power, or the power of
    /// points driven until the rated distortion.
    enum class By { distortion, power };
    By by = By::distortion;
    Watts rated;
    double thd = 0.01;              ///< ratio; the rated distortion
    Hertz reference{1000.0};        ///< the search goes outwards from the point nearest to it
    bool low = false;               ///< the lower edge; else the upper one
    double flatness_u_k1_db = 0.0;  ///< of the rig's level against frequency
};

/// The edge, Hz: where distortion rises through the rated one, or power falls through half of the
/// rated. Between two points the logarithm of either is straight against that of the frequency.
/// A bound where the condition still holds at the last point: at most it, at least it. A distortion
/// is taken at half the rated power itself where its slope is known.
///
/// What the bench's volts, load and flatness leave of the level is common to all points and moves
/// the edge. The rig's own distortion, where distortion decides, is its part: how far the edge
/// would move without it.
///
/// Conditions: `thd`, `output_level` (half rated), `reference_frequency`.
/// Fails   unresolved without points, when the condition does not hold at the reference itself, and
///         when a point of low distortion was not driven to half the rated power.
[[nodiscard]] Figure power_bandwidth(const std::vector<PowerBandwidthPoint>& points,
                                     const PowerBandwidthSettings& settings, int channel,
                                     const BenchShare& bench, Conditions conditions);

}  // namespace afterload::analysis
