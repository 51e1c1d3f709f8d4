/// How fast a level may rise on the way to a target: the rules by which the level finder drives,
/// and by which a plan counts its looks.
#pragma once

#include "analysis/quantity.hpp"

#include <vector>

namespace afterload::runner {

/// Gain, dB, that an unknown unit is taken to have at the first drive: the largest there may be.
inline constexpr double assumed_gain_db = 85.0;
/// What the first drive may yield.
inline constexpr Watts first_output{0.010};
inline constexpr double search_step_db = 10.0;   ///< towards the first sight of an output
inline constexpr double approach_step_db = 6.0;  ///< towards the target
inline constexpr double last_step_db = 1.0;      ///< onto the target
inline constexpr double reached_db = -0.1;       ///< a target is reached from here to 0 dB
/// Largest gain, dB, that another way between the same terminals may have over one that is known: a
/// tone stage with its controls turned up adds less than 20.
inline constexpr double other_way_db = 24.0;
/// Far below the target a look needs no more than this to settle: it says how far to go, and the
/// last step is looked at anew.
inline constexpr Seconds approach_settle{0.1};
/// Changes of drive at most on the way to one target.
inline constexpr int most_level_steps = 40;
inline constexpr Seconds shortest_look{0.1};
/// A look that lost samples is taken again, this often in all.
inline constexpr int most_looks = 3;

[[nodiscard]] double ratio(double decibels);      ///< of amplitudes
[[nodiscard]] double decibels(double amplitude);  ///< of a ratio of amplitudes

/// How long one look at a tone lasts: eight periods, not less than `at_least`.
[[nodiscard]] Seconds look_length(Hertz frequency, Seconds at_least = shortest_look);

/// V rms to drive an unknown path to a target of `target` V rms into `load` with, at first: times
/// the assumed gain it yields the first output, or the target where that is less.
[[nodiscard]] double first_drive_unknown(double target, Ohms load);

/// The middle of where a target counts as reached, V rms.
[[nodiscard]] double aimed_output(double target);

/// The output to ask for next when `output` was seen and `target`, above it, is wanted; V rms.
[[nodiscard]] double next_output(double output, double target);

/// Output to begin with on a path whose gain is known; `highest` was seen there before, V rms.
/// At another frequency a tone control may add 10 dB and more to the gain as known.
[[nodiscard]] double known_first_output(double target, double highest, bool same_frequency);

/// The same on a way that is not known yet, between terminals where another way is: times the
/// other's gain.
[[nodiscard]] double other_way_first_output(double target, double highest);

/// Is an expected output so near to the target that its look may end the search?
[[nodiscard]] bool is_last_step(double output, double target);

/// Outputs that are looked at from `first` to the target, of a unit that is linear; V rms.
[[nodiscard]] std::vector<double> outputs_to(double target, double first);

}  // namespace afterload::runner
