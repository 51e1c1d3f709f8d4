/// Figures from a recording: what `afterload analyze` does with one capture. No bench stands behind
/// it, so that the uncertainty covers the fit alone.
#pragma once

#include "analysis/capture_fault.hpp"
#include "analysis/figure.hpp"
#include "analysis/quantity.hpp"
#include "analysis/watch_event.hpp"
#include "instruments/recording.hpp"

#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

struct CaptureSettings {
    enum class Signal { tone, two_tone, silence, sweep, multitone };
    Signal signal = Signal::tone;
    std::string stimulus;  ///< file that was played, of sweep and multitone
    std::vector<VoltsPeak> full_scale{VoltsPeak{1.0}};  ///< one for all channels, or one a channel
    std::optional<Ohms> load;
    std::optional<Hertz> mains;
    /// Of harmonics and noise alike; absent: harmonics to 0.45 of the rate, noise 20 Hz to 20 kHz.
    std::optional<Band> bandwidth;
    std::optional<Hertz> frequency;  ///< of the tone; absent: the strongest line
    int highest_order = 20;
    bool watch = false;  ///< in blocks, for what happens: see watch_capture()
};

struct CaptureChannel {
    int channel = 1;
    std::vector<Figure> figures;
};

struct CapturePair {
    int from = 1;
    int to = 2;
    std::vector<Figure> figures;
};

/// What a watched capture has beside its figures.
struct CaptureEvents {
    std::vector<analysis::WatchEvent> events;
    std::vector<analysis::UnwatchedPart> unwatched;
    std::size_t left_out = 0;  ///< events beyond the most that are kept
};

struct CaptureAnalysis {
    std::string file;
    SampleRate rate;
    Frames frames;
    std::vector<CaptureFault> faults;
    std::vector<CaptureChannel> channels;
    std::vector<CapturePair> pairs;
    std::vector<std::string> notes;        ///< what kept some figures from being had, a line each
    std::optional<CaptureEvents> watched;  ///< with CaptureSettings::watch
    [[nodiscard]] bool sound() const { return faults.empty(); }
};

/// Analyses a recording. A capture that is not fit to judge still has its figures where they can be
/// had; its faults say why they may not be relied on.
///
/// Fails   in one line: fewer full-scale voltages than channels; a stimulus file that cannot be
///         read, or is of another rate.
[[nodiscard]] tl::expected<CaptureAnalysis, std::string> analyze_capture(
    const std::string& file, const instruments::Recording& recording,
    const CaptureSettings& settings);

}  // namespace afterload::runner
