/// What the maker promises (or the shop demands): a limit with its direction, its source and the
/// conditions it holds under.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/figure.hpp"

#include <optional>
#include <string>
#include <vector>

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
    std::vector<std::string> inputs;      ///< "line", "phono"
    std::vector<std::string> outputs;     ///< "speaker_a", "speaker_b", "pre_out", "headphone"
    bool bridged = false;                 ///< outputs share no common terminal
    bool output_transformer = false;      ///< never driven without its load
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
/// sheet has none of that figure that applies under the same conditions; the unit's own always
/// wins.
[[nodiscard]] RatingSheet laid_under(const RatingSheet& unit, const RatingSheet& house);

/// The conditions a figure needs before it can be compared, each with the house convention used
/// when the maker did not state it, and how far the plausible conventions lie apart.
struct NeededCondition {
    FigureKind figure;
    std::string key;         ///< one of condition_keys()
    std::string convention;  ///< in words: "20 Hz to 20 kHz"
    double spread_db;        ///< how far apart plausible conventions read, decibels of the figure
    std::string why;         ///< where the spread comes from
};
[[nodiscard]] const std::vector<NeededCondition>& needed_conditions();

/// Does `rated` speak of what was measured under `measured`? Conditions that both state must agree,
/// the rest is open:
///
/// - frequency within 2 % of the rated one, or inside the rated tone range; a measured range must
/// hold
///   the rated one
/// - load and source impedance within 5 %, levels within 1 %, mains voltage within 10 %, ambient
/// within
///   10 degrees; warm-up and dwell at least as long as rated
/// - an output "speaker" speaks of "speaker_a" and "speaker_b", an input likewise
/// - the bandwidth of the meter does not pick a distortion: it is set by the rating and limited by
/// the
///   card, and the verdict weighs what is left
/// - everything else equal
[[nodiscard]] bool applies(const RatedFigure& rated, FigureKind kind, const Conditions& measured);

/// Needed conditions that `rated` does not state. None for a house figure: the shop means what the
/// shop measures. A rated tone range stands for the frequency.
[[nodiscard]] std::vector<NeededCondition> missing_conditions(const RatedFigure& rated);

/// Two figures of one sheet that cannot both be right, in words and with both numbers: power
/// against volts and ohms (5 %), gain against sensitivity and power, phono gain against the two
/// sensitivities (1 dB beyond the stated tolerance).
[[nodiscard]] std::vector<std::string> contradictions(const RatingSheet& sheet);

}  // namespace afterload
