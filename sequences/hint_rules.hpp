/// A file of hint rules (`afterload: hints/1`) as it stands in memory: what the figures of a run
/// usually mean, where to look first, and the one test that tells it from what looks alike.
///
/// A fact is a number that a run gives, left and right; a hint is a pattern of facts. Both are data
/// that a technician reads and extends.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/figure.hpp"
#include "sequences/quantity_text.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::sequences {

/// A number of a run, one a channel.
struct HintFact {
    enum class Source {
        figure,      ///< a figure that was measured under `conditions`
        reading,     ///< of a meter, or typed in
        trend,       ///< of a soak, at its first or its last minute
        events,      ///< how many of a kind
        retakes,     ///< how many records were taken again because of a kind of fault
        told,        ///< 1 where the run says so in words, else 0
        ratio,       ///< of two facts
        difference,  ///< of two facts
        sum          ///< of two facts
    };
    /// What a figure is counted from.
    enum class From {
        zero,
        nominal,  ///< of its rating, in decibels; of a reading of the mains the share of the unit's
        limit     ///< of its rating, in decibels
    };
    /// Which, where several figures fit.
    enum class Take { first, last };

    std::string name;
    std::string words;  ///< as a sheet says it: "response at 20 Hz"
    Source source = Source::figure;
    FigureKind figure = FigureKind::thd;
    Conditions conditions;     ///< that the figure must have been measured under
    std::optional<int> order;  ///< of a harmonic
    std::string detail;        ///< a further number of the figure: "line_2"
    From from = From::zero;
    Take take = Take::first;
    std::string reading;  ///< of a meter: "mains_voltage"; of a trend: "heat_sink"
    std::string event;    ///< kind of an event or of a capture's fault
    bool largest =
        false;          ///< of events: the size of the largest, in decibels, and not their number
    std::string told;   ///< words to look for
    std::string first;  ///< names of the two facts of a ratio, a difference or a sum
    std::string second;
    Dimension dimension = Dimension::number;  ///< of its value
};

/// What a fact must be. Without a limit it must have been measured; a count or a word must be
/// there.
struct HintCondition {
    enum class Of {
        own,    ///< the channel that the hint speaks of
        other,  ///< the other one
        apart,  ///< own less the other; of a hint about both channels the size of the difference
        times   ///< own over the other; of a hint about both channels the larger over the smaller
    };
    std::string fact;
    Of of = Of::own;
    std::optional<double> at_least;
    std::optional<double> at_most;
    std::vector<HintCondition> any;  ///< instead of a fact: one of these
};

/// Whose fault it would be. Those of the rig come first, then controls, then the unit.
enum class HintAbout { rig, control, unit };
[[nodiscard]] std::string_view name(HintAbout about);

enum class HintChannels {
    one,   ///< one channel, and not the other
    both,  ///< both alike
    any    ///< each by itself
};

/// Never more than high from a signal alone for anything inside the unit.
enum class HintConfidence { low, medium, high, certain };
[[nodiscard]] std::string_view name(HintConfidence confidence);

struct HintRule {
    std::string name;
    HintAbout about = HintAbout::unit;
    std::string family;  ///< what belongs together: "bias", "supply", "contact"
    HintChannels channels = HintChannels::any;
    HintConfidence confidence = HintConfidence::medium;
    std::vector<FigureKind> explains;    ///< failed figures that this may be behind
    bool even_if_passed = false;         ///< else one of those must have failed
    std::vector<HintCondition> when;     ///< all must hold
    std::vector<HintCondition> also;     ///< each that holds speaks for it
    std::vector<HintCondition> against;  ///< each that holds speaks against it
    std::vector<HintCondition> unless;   ///< none may hold
    std::string usually;                 ///< what this pattern usually means
    std::string look;                    ///< where to look first
    std::string separates;               ///< the test that tells it from what looks alike
    std::vector<std::string> cautions;   ///< names of shipped cautions, or texts
};

struct HintRules {
    std::string title;
    std::vector<HintFact> facts;
    std::vector<HintRule> hints;

    /// Null: there is no such fact.
    [[nodiscard]] const HintFact* find_fact(std::string_view name) const;
};

/// `own` laid over `under`: what has the name of a fact or a hint below stands in its place, the
/// rest is added.
[[nodiscard]] HintRules laid_over(const HintRules& own, const HintRules& under);

}  // namespace afterload::sequences
