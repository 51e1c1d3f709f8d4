/// What the maker promises (or the shop demands): a limit with its direction, its source and the
/// conditions it holds under.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "analysis/conditions.hpp"
#include "analysis/figure.hpp"

namespace afterload {

/// A limit in the unit of its figure. At least one side is set; `nominal` with tolerance sets both.
struct Limit {
    std::optional<double> at_least;
    std::optional<double> at_most;
    std::optional<double> nominal;
    bool operator==(const Limit&) const = default;
};

struct RatedFigure {
    enum class Origin { maker, house };
    std::string id;  ///< unique in its sheet: as written, else made from figure and conditions
    FigureKind figure = FigureKind::output_power;
    Limit limit;
    std::optional<Limit> warn;  ///< inside the limit but worth a word
    std::string source;         ///< "page 4", "house rule"
    Origin origin = Origin::maker;
    Conditions conditions;
};

/// The amplifier under test, as its rating sheet describes it.
struct UnitDescription {
    std::string maker;
    std::string model;
    int channels = 2;
    std::vector<std::string> inputs;   ///< "line", "phono"
    std::vector<std::string> outputs;  ///< "speaker_a", "speaker_b", "pre_out", "headphone"
    bool bridged = false;              ///< outputs share no common terminal
    std::optional<double> mains_voltage;  ///< V rms
    std::optional<Hertz> mains_frequency;
};

/// A unit's rated figures. A house sheet is one without a unit.
struct RatingSheet {
    std::optional<UnitDescription> unit;
    std::string title;
    std::vector<RatedFigure> figures;
};

/// The unit's own sheet with the shop's laid under it: a house figure counts only where the unit's
/// sheet has none of that figure that applies under the same conditions; the unit's own always wins.
[[nodiscard]] RatingSheet laid_under(const RatingSheet& unit, const RatingSheet& house);

/// The conditions a figure needs before it can be compared, each with the house convention used when
/// the maker did not state it, and how far the plausible conventions lie apart.
struct NeededCondition {
    FigureKind figure;
    std::string key;         ///< one of condition_keys()
    std::string convention;  ///< in words: "20 Hz to 20 kHz"
    double spread_db;        ///< how far apart plausible conventions read, decibels of the figure
    std::string why;         ///< where the spread comes from
};
[[nodiscard]] const std::vector<NeededCondition>& needed_conditions();

/// Does `rated` speak of what was measured under `measured`? Conditions that both state must agree
/// (frequency within 2 % or inside the rated tone range, load within 5 %, the rest equal).
[[nodiscard]] bool applies(const RatedFigure& rated, FigureKind kind, const Conditions& measured);

/// Needed conditions that `rated` does not state.
[[nodiscard]] std::vector<NeededCondition> missing_conditions(const RatedFigure& rated);

/// Two figures of one sheet that cannot both be right, in words: power against volts and ohms, gain
/// against sensitivity and power, phono gain against the two sensitivities.
[[nodiscard]] std::vector<std::string> contradictions(const RatingSheet& sheet);

}  // namespace afterload
