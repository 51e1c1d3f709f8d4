/// The conditions a figure was rated or measured under. An absent condition was not stated.
///
/// One struct serves both sides, so that a rating and a figure can be held against each other field
/// by field. Keys are part of the contract: the rating file, the run document and the analysis
/// document use the same names (condition_keys()).
#pragma once

#include "analysis/level.hpp"
#include "analysis/quantity.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace afterload {

enum class Channels { left, right, both };  ///< which channels are driven or meant

/// Weighting of a noise figure. itu_r_468 is 0 dB at 1 kHz (the use that is 0 dB at 2 kHz lies
/// 5.6 dB lower); the detector behind it is a condition of its own.
enum class Weighting { unweighted, a, itu_r_468 };

/// What reads a noise: its rms, or the quasi-peak detector of ITU-R BS.468-4. Stated with that
/// weighting, for both are in use; with any other, noise is rms.
enum class Detector { rms, quasi_peak };

[[nodiscard]] std::string_view name(Channels channels);    ///< "left", "right", "both"
[[nodiscard]] std::string_view name(Weighting weighting);  ///< "none", "A", "ITU-R 468"
[[nodiscard]] std::string_view name(Detector detector);    ///< "rms", "quasi-peak"

/// A level as a person writes it: a drive at the source's terminals, or an output to reach.
struct LevelTarget {
    enum class Kind {
        drive_volts,    ///< V rms at the source's terminals
        drive_dbfs,     ///< dB re a full-scale sine of the source
        output_power,   ///< W into the step's load
        output_volts,   ///< V rms at the unit's output (ratings only: "1 V at the pre-out")
        rated_fraction  ///< fraction of the rated power: `rated` is 1, `1/8 rated` 0.125
    };
    Kind kind = Kind::rated_fraction;
    double value = 1.0;  ///< in the unit of `kind`; rated_fraction is a ratio of powers
    bool operator==(const LevelTarget&) const = default;
};

/// Is it a drive at the source's terminals, rather than an output to reach?
[[nodiscard]] constexpr bool is_drive(const LevelTarget& level) {
    return level.kind == LevelTarget::Kind::drive_volts ||
           level.kind == LevelTarget::Kind::drive_dbfs;
}

/// As a front panel prints it: "1 W", "0.5 V", "-20 dBFS", "rated", "1/8 rated", "rated - 3 dB".
[[nodiscard]] std::string text(const LevelTarget& level);
/// What a ratio refers to, as a sheet writes it: as text(), but "5 mV in" for volts at the input.
[[nodiscard]] std::string reference_text(const LevelTarget& level);

struct Conditions {
    std::optional<Ohms> load;
    std::optional<Channels> channels_driven;
    std::optional<LevelTarget> output_level;
    std::optional<Hertz> frequency;  ///< as measured or rated; nominal 1 kHz is 997 Hz
    std::optional<Band> tone_range;  ///< band over which the tone is moved
    std::optional<Band> bandwidth;   ///< of the meter; never the tone range
    std::optional<Weighting> weighting;
    std::optional<Detector> detector;            ///< absent: rms
    std::optional<LevelTarget> reference_level;  ///< what a signal-to-noise ratio refers to
    std::optional<Hertz> reference_frequency;    ///< what a response refers to
    std::optional<int> highest_order;            ///< highest harmonic counted
    std::optional<double> thd;                   ///< ratio; the distortion a power is stated at
    std::optional<Gain> fall;                    ///< negative; of bandwidth_low and bandwidth_high
    std::optional<std::string> input;            ///< "line", "phono"
    std::optional<std::string> output;           ///< "speaker", "pre_out"
    std::optional<std::string> path;             ///< "direct" or "tone"
    std::optional<Ohms> source_impedance;
    std::optional<std::string>
        termination;                    ///< of the undriven or idle input: "shorted", "600 ohm"
    std::optional<std::string> volume;  ///< "maximum", "zero", a mark
    std::optional<std::string> tone_controls;  ///< "flat", "defeat"
    std::optional<std::string> curve;          ///< of an equalisation: "3180/318/75 us"
    std::optional<double> mains_voltage;       ///< V rms
    std::optional<Seconds> warm_up;
    std::optional<std::string> preconditioning;
    std::optional<Celsius> ambient;
    std::optional<Seconds> dwell;
    std::optional<std::string> signal;  ///< "multitone"; absent: what the figure's name implies
    bool operator==(const Conditions&) const = default;
};

/// Names of the conditions in the order in which a sheet prints them.
[[nodiscard]] const std::vector<std::string_view>& condition_keys();

/// Is the condition called `key` stated? `key` must be one of condition_keys().
[[nodiscard]] bool stated(const Conditions& conditions, std::string_view key);

}  // namespace afterload
