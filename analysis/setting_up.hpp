/// How far a figure moves when nothing was done to the unit but to set it up again: the volume
/// found again, the mains of another hour, the room and the warm-up of another day.
#pragma once

#include "analysis/figure.hpp"

#include <optional>
#include <string>
#include <vector>

namespace afterload::analysis {

/// Standard uncertainties (k = 1) of setting up once. They are relative for volts, watts, ohms,
/// hertz and ratios, decibels for figures in decibels, and in the figure's own unit where
/// `absolute`.
struct SettingUp {
    FigureKind kind;
    double volume;       ///< of finding a volume mark by hand; nothing at the end stops
    double mains;        ///< relative change of the figure per relative change of the mains
    double temperature;  ///< room, warm-up, leads and contacts
    bool absolute;       ///< `temperature` is in the figure's own unit
    const char* why;     ///< where the number comes from: common practice
};

/// The table of the project, one row a kind. All of it is common practice, no standard: a shop that
/// measures one unit several times replaces it by its own scatter (Repeats).
[[nodiscard]] const SettingUp& setting_up(FigureKind kind);

/// Relative standard deviation of the mains from one hour to another, where a run did not measure
/// it. Common practice: supply voltage is within 10 % of nominal for 95 % of a week (EN 50160,
/// 4.2.2), and within a few per cent at one outlet.
inline constexpr double mains_from_hour_to_hour = 0.01;

/// What a shop's own repeats say of setting up: the scatter of one kind of figure over runs between
/// which nothing was done to the unit.
struct Repeats {
    double scatter = 0.0;             ///< standard deviation of one run, units as in SettingUp
    double degrees_of_freedom = 0.0;  ///< runs less the groups they stand in
};

/// The fewest degrees of freedom with which repeats take the place of the table: below two a factor
/// of 14 (table G.2 of the GUM) would hide every change.
inline constexpr double fewest_degrees_of_freedom = 2.0;

/// Scatter of figures of one kind. Each row is one figure (a channel, a level, a frequency) over
/// the runs of one group: values between which nothing was done. Rows of one set of runs share
/// their setting up, so that the degrees of freedom are those of the runs: `sum of (runs - 1)` over
/// the groups, not over the rows.
///
/// Shape   each inner vector holds at least one value; empty result where nothing was repeated.
/// Source  pooled estimate of variance, GUM 4.2.4.
[[nodiscard]] std::optional<Repeats> repeats(FigureKind kind,
                                             const std::vector<std::vector<double>>& rows,
                                             double degrees_of_freedom);

/// The lines that setting up adds to the difference of two figures of one kind, in the figure's
/// unit: √2 of one setting up, for it was done twice. With `own` the shop's scatter in place of the
/// table. Where both runs measured their mains, what lies between the two readings counts (as a
/// rectangle, GUM 4.3.7): a regulated supply follows it by nothing, an unregulated one by all.
[[nodiscard]] Budget of_setting_up(const Figure& before, const Figure& after,
                                   const std::optional<Repeats>& own);

}  // namespace afterload::analysis
