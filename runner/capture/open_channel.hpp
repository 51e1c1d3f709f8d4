/// The channels of one capture on their way to figures, and one function a kind of signal.
#pragma once

#include "analysis/measure.hpp"
#include "analysis/soundness.hpp"
#include "analysis/two_tone.hpp"
#include "runner/capture/capture_analysis.hpp"

#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// One channel in volts, with its tone where one was looked for.
struct OpenChannel {
    Waveform waveform;
    std::optional<analysis::ToneFit> fit;
    std::optional<analysis::TwoToneFit> pair;
    std::string failure;               ///< why there is no fit
    Hertz frequency;                   ///< of the tone, as found; of two the high one
    std::vector<Hertz> tones;          ///< of a multitone: those this channel carries
    std::optional<Hertz> beside;       ///< the low one of two
    Seconds least;                     ///< a shorter capture cannot hold what was played
    std::vector<CaptureFault> faults;  ///< that only its figures could tell; channel not yet set

    /// Peak volts of the tone, of two the high one; 0 without a fit.
    [[nodiscard]] double tone_amplitude() const {
        return fit ? fit->fundamental.amplitude : (pair ? pair->high.amplitude : 0.0);
    }
};

/// What the figures of a capture have in common.
struct CaptureContext {
    const CaptureSettings& settings;
    analysis::BenchShare share;  ///< no bench: the stated load alone
    Conditions conditions;

    /// The band asked for, or the audio band, as far as the rate holds it.
    [[nodiscard]] Band band(SampleRate rate) const;
};

/// A channel this far below the other holds its leak and not a tone of its own.
inline constexpr double leak_ratio = 0.1;

/// Each adds its figures to `result`, a CaptureChannel for every channel.
void tone_figures(const CaptureContext& context, std::vector<OpenChannel>& channels,
                  CaptureAnalysis& result);
/// Fails where the stimulus file cannot be read or does not belong to this capture.
tl::expected<void, std::string> sweep_figures(const CaptureContext& context,
                                              std::vector<OpenChannel>& channels,
                                              CaptureAnalysis& result);
void two_tone_figures(const CaptureContext& context, std::vector<OpenChannel>& channels,
                      CaptureAnalysis& result);
/// Reads the stimulus that the settings name.
///
/// Fails   in one line: the stimulus cannot be read, is no multitone, or has another rate.
[[nodiscard]] tl::expected<void, std::string> multitone_figures(const CaptureContext& context,
                                                                std::vector<OpenChannel>& channels,
                                                                CaptureAnalysis& result);
void silence_figures(const CaptureContext& context, const std::vector<OpenChannel>& channels,
                     CaptureAnalysis& result);

}  // namespace afterload::runner
