/// The A curve and the noise network of ITU-R BS.468-4.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/level.hpp"
#include "analysis/quantity.hpp"

#include <complex>

namespace afterload::analysis {

/// Gain of the A-weighting at `frequency`, 0 dB at 1 kHz; minus infinity at 0 Hz.
/// Source  IEC 61672-1:2013, Annex E.
[[nodiscard]] Gain a_weighting(Hertz frequency);

/// Response of the network of ITU-R BS.468-4 with its phase. The scale is that of the table: +12.2
/// dB at 6.3 kHz, where the Recommendation allows no tolerance; 1 kHz then lies at -0.017 dB and 2
/// kHz at +5.61 dB. Nothing passes at 0 Hz. Source  Recommendation ITU-R BS.468-4 (1986), table 1
/// and figure 1a; the network's rational form
///         as printed in SMPTE RP 2054.
[[nodiscard]] std::complex<double> itu_r_468_response(Hertz frequency);

/// Its gain in dB.
[[nodiscard]] Gain itu_r_468_weighting(Hertz frequency);

/// Power gain of `weighting` at `frequency`: 1 where nothing is weighted.
[[nodiscard]] PowerRatio weight_of(Weighting weighting, Hertz frequency);

}  // namespace afterload::analysis
