/// The band over which half of the rated power comes with no more than the rated distortion.
///
/// Source  IEC 60268-3, distortion-limited effective frequency range: output 3 dB below rated,
///         rated distortion not exceeded.
#pragma once

#include "analysis/measure.hpp"

#include <vector>

namespace afterload::analysis {

/// One frequency that was tried.
struct PowerBandwidthPoint {
    Hertz frequency;
    Watts power;
    double thd = 0.0;         ///< ratio; 0: below everything
    double u_relative = 0.0;  ///< of `thd`, or of `power` where that decides, k = 1
};

struct PowerBandwidthSettings {
    /// What decides: the distortion of points driven to half the rated power, or the power of
    /// points driven until the rated distortion.
    enum class By { distortion, power };
    By by = By::distortion;
    Watts rated;
    double thd = 0.01;        ///< ratio; the rated distortion
    Hertz reference{1000.0};  ///< the search goes outwards from the point nearest to it
    bool low = false;         ///< the lower edge; else the upper one
};

/// The edge, Hz: where distortion rises through the rated one, or power falls through half of the
/// rated. Between two points the logarithm of either is straight against that of the frequency.
/// A bound where the condition still holds at the last point: at most it, at least it.
///
/// Conditions: `thd`, `output_level` (half rated), `reference_frequency`.
/// Fails   unresolved without points, when the condition does not hold at the reference itself, and
///         when a point of low distortion was not driven to half the rated power.
[[nodiscard]] Figure power_bandwidth(const std::vector<PowerBandwidthPoint>& points,
                                     const PowerBandwidthSettings& settings, int channel,
                                     const BenchShare& bench, Conditions conditions);

}  // namespace afterload::analysis
