/// The tone in a record: frequency, amplitude and phase of a sine with its harmonics, the mains
/// lines and a slow DC, fitted together by weighted least squares.
///
/// Neither the frequency nor the start of the record is assumed: source and card may run on two
/// clocks, a few hundred ppm apart.
#pragma once

#include "analysis/failure.hpp"
#include "analysis/quantity.hpp"
#include "analysis/waveform.hpp"

#include <optional>
#include <vector>

namespace afterload::analysis {

struct ToneFitSettings {
    Hertz nominal;  ///< where the tone is expected; found within ±1000 ppm + 2/T
    std::optional<Hertz>
        mains;  ///< 50 or 60 Hz: the mains lines are fitted with their own frequency
    int highest_harmonic = 20;  ///< modelled; those at or above 0.49 of the rate are left out
    double ends = 0.1;          ///< share of the record in the two cosine ends of the weight
    int dc_degree = 0;          ///< polynomial degree of the slow DC: 0 settled (a straight line is
                                ///< fitted all the same), 4 unsettled; higher by itself where a
                                ///< mains line has less than 1.2 periods
};

/// One fitted line: amplitude · cos(2π f t + phase), t = 0 in the middle of the record.
struct FittedLine {
    int order = 1;  ///< harmonic order, or order of the mains line
    Hertz frequency;
    double amplitude = 0.0;  ///< peak volts
    double phase = 0.0;      ///< radians
    double sigma = 0.0;      ///< standard deviation of amplitude from the noise around this line
};

struct ToneFit {
    FittedLine fundamental;
    double frequency_u_k1 = 0.0;        ///< Hz
    std::vector<FittedLine> harmonics;  ///< order 2 and up, those that were modelled
    std::vector<FittedLine> mains;      ///< empty without mains in the settings
    std::vector<int> mains_left_out;    ///< mains orders that stand too close to the tone's lines
    std::vector<double> dc;             ///< polynomial in t/N, degree 0 first, volts
    double residual_rms = 0.0;          ///< volts, weighted, of what the model leaves
    Seconds length;
    SampleRate rate;
    double noise_gain = 1.0;  ///< g = N Σw² / (Σw)²: what the cosine ends cost
};

/// Fits the tone near `settings.nominal` in `record`.
///
/// Units   volts, hertz, radians.
/// Shape   at least two periods of the tone and 64 samples; nominal in (0, 0.49 rate).
/// Fails   no_tone, record_too_short, out_of_range, ill_conditioned.
/// Source  weighted least squares with unknown frequency (IEEE Std 1057 four-parameter fit,
/// extended
///         to harmonics and a second line group); bound after Rife and Boorstyn, IEEE Trans.
///         IT-20(5), 1974.
[[nodiscard]] Expected<ToneFit> fit_tone(WaveformView record, const ToneFitSettings& settings);

/// `record` with every fitted line and DC taken off.
[[nodiscard]] Waveform without_tone(WaveformView record, const ToneFit& fit);

}  // namespace afterload::analysis
