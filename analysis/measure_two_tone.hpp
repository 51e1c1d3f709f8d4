/// The figures of two tones. Both name their convention by what stands in `value`; every other one
/// in use is among the details, for one and the same signal they lie up to 3 dB and more apart.
#pragma once

#include "analysis/measure.hpp"
#include "analysis/two_tone.hpp"

namespace afterload::analysis {

/// A channel's pair of tones with everything the figures need.
struct TwoToneRecord {
    const TwoToneFit& fit;
    int channel = 1;
    const BenchShare& bench;
    Conditions conditions;  ///< as driven
};

/// `value`: rms of the side tones f2 ± f1 and f2 ± 2f1 over the carrier f2 (SMPTE RP 120,
/// DIN 45403-4). Details: low_tone, high_tone (Hz); low_over_high; equivalent_sine (V rms of the
/// sine that swings as far); side_tones_counted; iec_second, iec_third (IEC 60268-3 d_m,2 and
/// d_m,3), iec_together (root of the sum of their squares); demodulated; side_tones_to_order_5.
[[nodiscard]] Figure modulation_distortion(const TwoToneRecord& tones);

/// `value`: rms of f2 - f1, 2f1 - f2 and 2f2 - f1 over the sum of both tones, 2·U(f2). Details as
/// above, and: products_counted; iec_second, iec_third (IEC 60268-3 d_d,2 and d_d,3), total
/// (f2 - f1 and 2f1 - f2 alone), second_over_one_tone.
[[nodiscard]] Figure difference_frequency_distortion(const TwoToneRecord& tones);

}  // namespace afterload::analysis
