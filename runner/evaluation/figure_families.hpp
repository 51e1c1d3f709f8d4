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
/// Response and band edges from stepped tones: all records of the step make one curve a channel.
void over_frequencies(const sequences::FigureRequest& request, const OpenRecords& records,
                      Scorer& scorer);

/// Harmonics counted: by the request, else by the rating, else all below 0.45 of the rate.
[[nodiscard]] analysis::HarmonicBand harmonic_band(const sequences::FigureRequest& request,
                                                   const RatedFigure* rated, SampleRate rate);
/// Bandwidth and weighting: by the request, else by the rating, else the audio band.
[[nodiscard]] analysis::NoiseSettings noise_settings(const sequences::FigureRequest& request,
                                                     const RatedFigure* rated, SampleRate rate);

}  // namespace afterload::runner
