/// Something that happened at a moment while a signal was watched.
#pragma once

#include "analysis/quantity.hpp"

#include <string_view>
#include <vector>

namespace afterload::analysis {

struct WatchEvent {
    enum class Kind {
        level,       ///< the level moved, timeline intact
        dropout,     ///< the level fell by 20 dB or more
        clipping,    ///< the converter reached its end
        gap,         ///< samples are missing
        repeat,      ///< samples stand twice
        frozen,      ///< the source plays its last buffer again and again, or the card one sample
        offset,      ///< the mean moved
        hum,         ///< the mains lines rose
        noise,       ///< what is neither tone, harmonic nor mains rose
        distortion,  ///< the harmonics rose
    };
    /// Who is to blame, as far as one capture tells: the converter and the card are the rig; one
    /// channel alone is the unit or its lead; all at once the unit or its mains.
    enum class Blame { unit, rig, unit_or_lead, unit_or_mains };

    Kind kind = Kind::level;
    int channel = 0;  ///< from 1; 0 all
    Seconds start;
    Seconds duration;
    /// level, dropout: change in dB (-120: nothing is left); clipping: samples at the end; gap,
    /// repeat: samples; frozen: samples of what is repeated; offset: change in V; hum, noise: V rms
    /// while it lasted; distortion: ratio to the tone while it lasted.
    double size = 0.0;
    bool timeline_intact = true;
    Blame blame = Blame::unit_or_lead;
};

[[nodiscard]] std::string_view name(WatchEvent::Kind kind);    ///< "level", "dropout" ...
[[nodiscard]] std::string_view name(WatchEvent::Blame blame);  ///< "unit_or_lead" ...
/// "dB", "samples", "V" or "1": what `size` of such an event is in.
[[nodiscard]] std::string_view size_unit(WatchEvent::Kind kind);

/// A part of the capture in which nothing could be watched.
struct UnwatchedPart {
    enum class Why {
        silent,     ///< no tone yet, or no more
        unsettled,  ///< its level still moves
    };
    Why why = Why::silent;
    Seconds start;
    Seconds duration;
};
[[nodiscard]] std::string_view name(UnwatchedPart::Why why);  ///< "silent", "unsettled"

/// `each` channel's own events as one list in the order of their start. Of events that begin
/// together in all of `channels`, in one direction and of one kind, one is made with channel 0; a
/// slip of the card is there already. Sets the blame.
[[nodiscard]] std::vector<WatchEvent> told_together(std::vector<WatchEvent> each, int channels);

}  // namespace afterload::analysis
