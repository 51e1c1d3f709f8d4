/// How a record was driven: everything that turns its integers into figures again, years later.
#pragma once

#include "analysis/conditions.hpp"
#include "sequences/sequence.hpp"

#include <array>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

struct DrivenAs {
    sequences::Signal signal = sequences::Signal::silence;
    Hertz nominal;                  ///< tone played, or at which the level was found
    double drive_left_volts = 0.0;  ///< open-circuit V rms of a sine of the same peak; 0 undriven
    double drive_right_volts = 0.0;
    std::optional<LevelTarget> target;
    std::string range;
    double mains_voltage = 0.0;  ///< V rms; 0 unknown
    double ambient = 0.0;        ///< degrees Celsius; NaN unknown
    double heat_sink = 0.0;      ///< degrees Celsius; NaN unknown
    Seconds since_start;         ///< of the run, at the start of the record
    Seconds dwell;

    std::vector<Hertz> tones;     ///< of two tones
    double tone_ratio = 1.0;      ///< amplitude of the lower over the higher
    std::optional<Band> band;     ///< of sweep and multitone
    Seconds period;               ///< asked for: length of a sweep or a rise, period of a multitone
    bool from_generator = false;  ///< beside the card, it played
    bool open = false;            ///< no load was connected
    std::optional<Ohms> load;     ///< the one that was asked for; absent: the bench's first
    std::string volume;           ///< where the step repeats over marks; else empty
    std::string tone_controls;    ///< where the step repeats over settings; else empty
    std::optional<double> distortion_limit;  ///< THD that the level was searched for
    double distortion_slope = 0.0;  ///< relative change of distortion per relative change of level
    /// Left and right: why the level is beyond the source; empty: it is not.
    std::array<std::string, 2> short_of_level;

    [[nodiscard]] bool silent() const { return signal == sequences::Signal::silence; }
};

}  // namespace afterload::runner
