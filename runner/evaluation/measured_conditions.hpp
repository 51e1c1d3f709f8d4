/// The conditions a record was made under, and the short names that a sheet gives its figures.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/figure.hpp"
#include "analysis/rating.hpp"
#include "runner/evaluation/evaluate.hpp"
#include "runner/papers/run_document.hpp"

#include <string>

namespace afterload::runner {

/// Conditions of a record as it was driven. The frequency is the nominal one; a figure replaces it
/// by the fitted one.
[[nodiscard]] Conditions measured_conditions(const StepPath& path, const DrivenAs& driven,
                                             const sequences::BenchFile& bench);

/// The heading a step's figures stand under: "Direct path", "Tone path", "Phono", "Pre-out".
[[nodiscard]] std::string group_of(const StepPath& path);
/// What the whole group shares: "line in, volume maximum, into 8.02 ohm".
[[nodiscard]] std::string group_conditions(const StepPath& path, const sequences::BenchFile& bench,
                                           std::optional<Ohms> load_asked);

/// "1 kHz" for 997 Hz, "20 Hz" for 19.7 Hz: the nominal frequency a person knows it by.
[[nodiscard]] std::string nominal_text(Hertz frequency);

/// "THD 1 W, 1 kHz", "response 20 Hz", "signal to noise, A". `sheet` turns `rated` into watts.
[[nodiscard]] std::string label_of(FigureKind kind, const Conditions& conditions,
                                   const RatingSheet& sheet);

/// Of the unit's mains; absent where the sheet says nothing of it.
[[nodiscard]] std::optional<Hertz> mains_frequency(const RatingSheet& sheet);

/// Watts that a level means at the output into `load`; absent for a drive.
[[nodiscard]] std::optional<Watts> watts_of(const LevelTarget& level, const RatingSheet& sheet,
                                            Ohms load, Channels driven);

}  // namespace afterload::runner
