/// A sequence (`afterload: sequence/1`) as it stands in memory: what to do with a unit, in order.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/figure.hpp"
#include "analysis/quantity.hpp"
#include "sequences/place.hpp"

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace afterload::sequences {

struct Soak;

/// What the person is asked to do before the step, and what to beware of.
struct Prompt {
    std::string title;
    std::vector<std::pair<std::string, std::string>> controls;  ///< control, position
    std::vector<std::string> checks;    ///< what the person confirms beside: "loudness off"
    std::vector<std::string> cautions;  ///< names of shipped cautions, or texts of the sequence
    bool listens = false;               ///< the stimulus keeps playing while the prompt waits
};

/// What a step plays. A rising tone's level goes up by 6 dB within its record, from the step's
/// level
/// - 6 dB; a sweep and a multitone cover the step's band, and are as high at their peaks as the
/// tone of the step's level.
enum class Signal { silence, tone, two_tones, multitone, sweep, rising_tone };
[[nodiscard]] std::string_view name(Signal signal);  ///< "two_tones"
[[nodiscard]] std::optional<Signal> signal_named(std::string_view wanted);
/// As it stands in a sentence: "a tone", "silence", "two tones".
[[nodiscard]] std::string in_words(Signal signal);

/// The level of a step: a fixed target, or the largest level at a stated distortion.
struct DistortionLimited {
    std::optional<double> thd;  ///< ratio; absent: the rating's own
    LevelTarget up_to;          ///< never beyond this output, or beyond this drive
};
using StepLevel = std::variant<LevelTarget, DistortionLimited>;

/// A figure wanted from a step's records.
struct FigureRequest {
    FigureKind figure = FigureKind::thd;
    std::optional<std::string> rated;  ///< id of the rating; absent: whatever applies
    bool scored = true;                ///< false: shown, not held against anything
    std::optional<Weighting> weighting;
    std::optional<Detector> detector;
    std::optional<Band> bandwidth;
    std::optional<LevelTarget> reference_level;
    std::optional<Hertz> reference_frequency;
    std::optional<int> highest_order;
    std::optional<Gain> fall;
    std::optional<double> thd;
    std::optional<Gain> boost;  ///< rated boost, or cut, of a tone control at its end
    Place place;
};

/// A slow reading before or within a step.
struct MeterRequest {
    std::string quantity;              ///< name of a MeterQuantity
    std::optional<std::string> rated;  ///< id of the rating; absent: whatever applies
    bool gate = false;                 ///< out of its limit, or not answered: the run ends undriven
    Place place;
};

/// Repetition over lists; the step is done for every combination, the last list fastest. A list
/// that is not empty replaces the step's own `driven`, `level`, `frequency`, `load` or `volume`.
struct Repetition {
    std::vector<Channels> channels;
    std::vector<LevelTarget> levels;
    std::vector<Hertz> frequencies;
    std::vector<std::optional<Ohms>> loads;  ///< absent: the output is left open
    std::vector<std::string> volumes;        ///< marks, each set behind a prompt
    /// "flat", or a control with its position, "bass maximum", each set behind a prompt.
    std::vector<std::string> tone_controls;
};

struct Step {
    std::string name;
    Place place;
    std::optional<Prompt> prompt;
    std::vector<MeterRequest> meters;
    // Signal path; absent: as the step before.
    std::optional<std::string> input;   ///< "line", "phono"
    std::optional<std::string> output;  ///< "speaker_a", "pre_out"
    std::optional<std::string> path;    ///< "direct", "tone"
    std::optional<std::string> volume;  ///< "maximum", "zero"
    std::optional<std::string> range;   ///< absent: the most sensitive that is safe
    std::optional<Ohms> load;           ///< absent: the nominal load of the bench
    Channels driven = Channels::both;
    std::optional<Signal> signal;  ///< absent: the step records nothing
    std::optional<Hertz> frequency;
    std::vector<Hertz> tones;  ///< of two_tones: the lower first
    double tone_ratio = 1.0;   ///< amplitude of the lower tone over that of the higher
    std::optional<Band> band;  ///< of sweep and multitone
    std::optional<StepLevel> level;
    Repetition for_each;
    Seconds settle{0.3};  ///< at least; the level must be steady as well
    Seconds record{0.5};
    Seconds dwell{0.0};  ///< driven at the level before the record
    /// Longest further record where only noise leaves a verdict open; zero: none is made.
    Seconds further_record{8.0};
    std::shared_ptr<const Soak> soak;  ///< a step that drives for hours: soak.hpp; null: it is none
    std::vector<FigureRequest> figures;
    std::vector<std::string> after;  ///< names of earlier steps that it cannot do without
    bool stop_on_fail = false;       ///< a figure that fails ends the run after this step
    std::vector<std::string> cautions;
    std::map<std::string, Place, std::less<>> places;  ///< of the values, by key: "level", "range"
};

struct Parameter {
    std::string name;
    std::string default_text;
    std::string help;
};

struct Sequence {
    std::string name;  ///< file name without its endings: "final-verification"
    std::string path;
    std::string title;
    std::vector<std::string> cautions;
    std::vector<FigureKind> needs_rated;  ///< rated figures it cannot do without
    std::vector<Place> needs_places;      ///< one each
    std::vector<Parameter> parameters;
    std::vector<Step> steps;
    std::string text;  ///< as read, for the excerpts of mistakes found later
};

}  // namespace afterload::sequences
