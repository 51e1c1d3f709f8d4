/// Two tones in one record with the products that a bent transfer makes of them: both tones, the
/// products m·f1 + n·f2, the mains lines and a slow DC, fitted together.
#pragma once

#include "analysis/estimate.hpp"
#include "analysis/failure.hpp"
#include "analysis/stimulus.hpp"
#include "analysis/tone.hpp"

#include <optional>
#include <vector>

namespace afterload::analysis {

/// A pair of test tones, amplitudes as low over high.
struct TwoTonePair {
    Hertz low;
    Hertz high;
    double low_over_high = 1.0;
};
/// 60 Hz and 7 kHz, 4:1. Source  SMPTE RP 120.
inline constexpr TwoTonePair smpte_pair{Hertz{60.0}, Hertz{7000.0}, 4.0};
/// 250 Hz and 8 kHz, 4:1. Source  DIN 45403 part 4.
inline constexpr TwoTonePair din_pair{Hertz{250.0}, Hertz{8000.0}, 4.0};
/// 19 kHz and 20 kHz, 1:1. Source  IEC 60268-3 (2013), 14.12.8; the frequencies are common
/// practice.
inline constexpr TwoTonePair difference_pair{Hertz{19000.0}, Hertz{20000.0}, 1.0};

/// Do the tones stand so close together that their difference is what is asked for? Below a ratio
/// of three; far apart the high one is a carrier that the low one modulates.
[[nodiscard]] bool close_together(Hertz low, Hertz high);

/// Both tones on the channels of `which`, from their zero crossings (sine start). Their peaks add
/// up to that of a sine of `level` rms open circuit, so that the unit swings as far as with that
/// sine; a 4:1 pair has 0.68 of its power, a 1:1 pair half.
[[nodiscard]] Stimulus two_tones(const TwoTonePair& pair, VoltsRms level, bool left, bool right);

struct TwoToneSettings {
    Hertz low;  ///< where the tones are expected; each found within ±1000 ppm + 2/T
    Hertz high;
    std::optional<Hertz> mains;  ///< 50 or 60 Hz: orders 1 to 10, with their own frequency
    int highest_order = 5;       ///< |m| + |n| of the products that are modelled
    double ends = 0.1;           ///< share of the record in the two cosine ends of the weight
};

/// The line at |low_order · f1 + high_order · f2|, as it stands above 0 Hz.
struct Product {
    int low_order = 0;
    int high_order = 0;
    FittedLine line;  ///< line.order is |low_order| + |high_order|
};
/// A product that is not fitted, for another line stands within 1.2/T of it.
struct MissedProduct {
    int low_order = 0;
    int high_order = 0;
    Hertz frequency;
    bool mains = false;  ///< a mains line; else one of lower order, or DC
};

struct TwoToneFit {
    FittedLine low;
    FittedLine high;
    std::vector<Product> products;  ///< by order, then frequency; those below 0.49 of the rate
    std::vector<MissedProduct> missed;
    std::vector<FittedLine> mains;
    std::vector<int> mains_left_out;  ///< orders that stand too close to a tone
    std::vector<double> dc;           ///< polynomial in t/N, volts
    double residual_rms = 0.0;        ///< volts, of what the model leaves
    Seconds length;
    SampleRate rate;

    /// The fitted product of these orders or of both with the other sign; null where it is missed
    /// or stands too high.
    [[nodiscard]] const Product* product(int low_order, int high_order) const;
};

/// Fits two tones and their products. Both tones have one source and so one clock: their ratio is
/// found first, then one unknown clock carries all lines together.
///
/// Units   volts peak, hertz, radians in the middle of the record.
/// Shape   at least two periods of the low tone and of the difference; 0 < low < high < 0.49 rate.
/// Fails   no_tone, record_too_short, out_of_range, ill_conditioned.
/// Source  weighted least squares as in fit_tone().
[[nodiscard]] Expected<TwoToneFit> fit_two_tones(WaveformView record,
                                                 const TwoToneSettings& settings);

/// Every fitted line and DC taken off.
[[nodiscard]] Waveform without_two_tones(WaveformView record, const TwoToneFit& fit);

/// One and the same signal has several numbers of this name (for a pure square law the first is
/// exactly 1/√2 of the others), so each is named. All are ratios; what noise alone puts on the
/// squares is taken off.
struct ModulationDistortion {
    Estimate side_tones;       ///< rms of the side tones f2 ± f1, f2 ± 2f1 over the carrier f2
                               ///< (SMPTE RP 120, DIN 45403-4): the default
    double iec_second = 0.0;   ///< arithmetic sum of f2 ± f1 over the carrier (IEC 60268-3 d_m,2)
    double iec_third = 0.0;    ///< the same of f2 ± 2f1 (d_m,3)
    double demodulated = 0.0;  ///< rms depth of the carrier's envelope, upper and lower side tone
                               ///< added by phase
    double side_tones_to_order_5 = 0.0;  ///< the first with f2 ± 3f1 and f2 ± 4f1
    int counted = 0;                     ///< of the four side tones of the default
};
/// Fails   out_of_range when none of the four side tones can be had.
/// Source  SMPTE RP 120; DIN 45403-4; IEC 60268-3 (2013), 14.12.7.
[[nodiscard]] Expected<ModulationDistortion> modulation_distortion(const TwoToneFit& fit);

/// Reference of all but the last: the sum of both tones, twice the high one (IEC 60268-3).
struct DifferenceDistortion {
    Estimate products;        ///< rms of f2 - f1, 2f1 - f2 and 2f2 - f1: the default
    double iec_second = 0.0;  ///< f2 - f1 (d_d,2)
    double iec_third = 0.0;   ///< arithmetic sum of 2f1 - f2 and 2f2 - f1 (d_d,3)
    double total = 0.0;       ///< rms of f2 - f1 and 2f1 - f2, as for 8 and 11.95 kHz (14.12.10)
    double second_over_one_tone = 0.0;  ///< f2 - f1 over the high tone alone
    int counted = 0;                    ///< of the three products of the default
};
/// Fails   out_of_range when none of the three products can be had.
/// Source  IEC 60268-3 (2013), 14.12.8 and 14.12.10.
[[nodiscard]] Expected<DifferenceDistortion> difference_distortion(const TwoToneFit& fit);

/// The two strongest tones of a record whose pair is not known beforehand, each good to a tenth of
/// a bin.
///
/// Shape   at least 64 samples.
/// Fails   record_too_short; no_tone when not two lines stand 20 dB above the mean of the rest.
struct FoundPair {
    Hertz low;
    Hertz high;
};
[[nodiscard]] Expected<FoundPair> dominant_pair(WaveformView record);

}  // namespace afterload::analysis
