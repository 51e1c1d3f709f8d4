/// Where and how often a step finds its level, and what that level may become at other frequencies.
#pragma once

#include "runner/evaluation/evaluate.hpp"
#include "runner/papers/driven_as.hpp"
#include "sequences/combinations.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// Where a level is found when the signal is no tone.
inline constexpr Hertz level_frequency{997.0};

/// Does `which` drive channel 0 (left) or 1 (right)?
[[nodiscard]] bool drives(Channels which, std::size_t channel);

/// Does the step keep one drive through its lists? A response, an output impedance, a control: what
/// hangs on the drive's being the same would be hidden by a level that is found anew.
[[nodiscard]] bool holds_drive(const sequences::Step& step);

/// May a record of this step be made once more, longer? Not where it holds the whole of what is
/// played, nor where a person or a relay would have to go back first.
[[nodiscard]] bool may_record_again(const sequences::Step& step);

/// The combination at which the level of `combination` is found: at the reference frequency of a
/// response.
[[nodiscard]] sequences::Combination where_level_is_found(const sequences::Step& step,
                                                          sequences::Combination combination);

/// Names the level of a combination: equal names, equal drive, as far as the step holds it.
[[nodiscard]] std::string key_of_level(const sequences::Combination& combination);

/// Tells the paths of one unit into different loads apart: "|open", "|4 ohm"; empty: the bench's
/// first, asked for by name or not.
[[nodiscard]] std::string key_of_load(const sequences::BenchFile& bench, bool open,
                                      std::optional<Ohms> load);

/// A control that a person turns before a combination.
struct Turn {
    std::string title;  ///< of the prompt: "Volume at 12 o'clock"
    std::string control;
    std::string position;
};
/// Everything that must be turned from where `path` says it stands.
[[nodiscard]] std::vector<Turn> turns_to(const sequences::Combination& combination,
                                         const StepPath& path);

/// What a record of this combination plays, its drive left open.
[[nodiscard]] DrivenAs played_by(const sequences::Step& step,
                                 const sequences::Combination& combination);

/// Output over that at which the level was found for the same drive, at the most, over everything
/// that a record of `driven` plays.
[[nodiscard]] double largest_lift(const StepPath& path, const DrivenAs& driven);

}  // namespace afterload::runner
