/// Harmonics of a fitted tone and the distortion they add up to.
#pragma once

#include "analysis/estimate.hpp"
#include "analysis/failure.hpp"
#include "analysis/figure.hpp"
#include "analysis/tone.hpp"

#include <vector>

namespace afterload::analysis {

/// Which harmonics a distortion counts.
struct HarmonicBand {
    int highest_order = 20;
    Hertz upper;  ///< harmonics above this frequency are not counted (default: 0.45 of the rate)
};

/// Upper edge used where nobody states one: 0.45 of the sample rate.
[[nodiscard]] Hertz default_upper_edge(SampleRate rate);

struct Distortion {
    Estimate ratio;           ///< THD_F: rms of the counted harmonics over the fundamental
    int highest_counted = 0;  ///< highest order that was counted
    Band band;                ///< from the fundamental to the last edge
};

/// Total harmonic distortion of `fit`, harmonics over the fundamental (THD_F). The mean power that
/// noise alone puts into each harmonic, 4gσ²/N, is taken off.
///
/// Fails   out_of_range when H2 and H3 are not both inside `band` and below Nyquist: `what` names
/// the
///         sample rate needed.
/// Source  IEEE Std 1241 / 1057 (THD re the fundamental with a stated set of harmonics).
[[nodiscard]] Expected<Distortion> total_harmonic_distortion(const ToneFit& fit,
                                                             const HarmonicBand& band);

/// The harmonics of `fit` as a table, orders 2 to band.highest_order.
[[nodiscard]] std::vector<HarmonicRow> harmonic_table(const ToneFit& fit, const HarmonicBand& band);

}  // namespace afterload::analysis
