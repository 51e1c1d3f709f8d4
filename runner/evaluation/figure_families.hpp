/// The figures of a step by what they are taken from. Each adds to `scorer` what `request` asks
/// for, left before right, from all records that can give it.
#pragma once

#include "analysis/harmonic.hpp"
#include "analysis/noise.hpp"
#include "runner/evaluation/open_record.hpp"
#include "runner/evaluation/scorer.hpp"

#include <vector>

namespace afterload::runner {

using OpenRecords = std::vector<OpenRecord>;

/// Level, gain, frequency, distortion: of a driven channel of one record.
void of_tone(const sequences::FigureRequest& request, const OpenRecords& records, Scorer& scorer);
/// Left against right, both driven.
void of_balance(const sequences::FigureRequest& request, const OpenRecords& records,
                Scorer& scorer);
/// What of the one driven channel reaches the other.
void of_separation(const sequences::FigureRequest& request, const OpenRecords& records,
                   Scorer& scorer);
/// Noise and hum.
void of_silence(const sequences::FigureRequest& request, const OpenRecords& records,
                Scorer& scorer);
/// Power at a distortion, overload, sensitivity, clipping: of a driven channel of one record.
void of_power(const sequences::FigureRequest& request, const OpenRecords& records, Scorer& scorer);
/// Both edges of the power bandwidth, from all records of the step.
void over_power_bandwidth(const sequences::FigureRequest& request, const OpenRecords& records,
                          Scorer& scorer);
/// The gain at every level against that near 1 V.
void over_levels(const sequences::FigureRequest& request, const OpenRecords& records,
                 Scorer& scorer);
/// Output impedance and damping factor: each record without a load against the one before with it.
void over_loads(const sequences::FigureRequest& request, const OpenRecords& loaded,
                const OpenRecords& unloaded, Scorer& scorer);
/// Balance at every volume mark against that at maximum.
void over_volumes(const sequences::FigureRequest& request, const OpenRecords& records,
                  Scorer& scorer);
/// Boost and cut at the ends of the tone controls against flat.
void over_tone_controls(const sequences::FigureRequest& request, const OpenRecords& records,
                        Scorer& scorer);
/// Distortion against frequency from a sweep.
void distortion_of_sweep(const sequences::FigureRequest& request, const OpenRecords& records,
                         Scorer& scorer);
/// A channel's response from a sweep; nothing for a channel that was not driven.
[[nodiscard]] std::optional<Figure> response_of_sweep(const OpenRecord& opened, int channel,
                                                      Hertz reference, Conditions conditions,
                                                      double flatness_u_k1_db);

/// A channel's response from a multitone; nothing for a channel that was not driven.
[[nodiscard]] std::optional<Figure> response_of_multitone(const OpenRecord& opened, int channel,
                                                          Hertz reference,
                                                          const Conditions& conditions,
                                                          const EvaluationContext& context);
/// Gain, balance, separation both ways, polarity, identity and all that is no tone: from a
/// multitone.
void of_multitone(const sequences::FigureRequest& request, const OpenRecords& records,
                  Scorer& scorer);
/// Modulation and difference-frequency distortion.
void of_two_tones(const sequences::FigureRequest& request, const OpenRecords& records,
                  Scorer& scorer);

/// Response, band edges and equalisation error. From stepped tones all records of the step make one
/// curve a channel; a sweep or a multitone gives it from one record.
void over_frequencies(const sequences::FigureRequest& request, const OpenRecords& records,
                      Scorer& scorer);

/// What an output is loaded with where nobody says.
inline constexpr Ohms usual_load{8.0};

/// The point of a curve inside `range` that uses most of the rating's tolerance.
[[nodiscard]] std::optional<analysis::WorstPoint> worst_inside(const Curve& curve, Band range,
                                                               const RatedFigure& rated);

/// Harmonics counted: by the request, else by the rating, else all below 0.45 of the rate.
[[nodiscard]] analysis::HarmonicBand harmonic_band(const sequences::FigureRequest& request,
                                                   const RatedFigure* rated, SampleRate rate);
/// Bandwidth and weighting: by the request, else by the rating, else the audio band.
[[nodiscard]] analysis::NoiseSettings noise_settings(const sequences::FigureRequest& request,
                                                     const RatedFigure* rated, SampleRate rate);

}  // namespace afterload::runner
