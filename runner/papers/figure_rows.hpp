/// Figures of a run as rows of a sheet: left and right side by side, grouped by signal path, one
/// verdict word a row, with the numbers written out. Terminal sheet and report both stand on this.
#pragma once

#include "runner/papers/number_text.hpp"
#include "runner/papers/run_document.hpp"

#include <map>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// Points into the RunDocument it was made from.
struct FigureRow {
    std::string label;
    FigureKind kind = FigureKind::output_voltage;
    const StepResult* step = nullptr;
    const ScoredFigure* left = nullptr;  ///< also what is not of one channel (`single`)
    const ScoredFigure* right = nullptr;
    bool single = false;                           ///< one figure for both channels: balance
    std::optional<analysis::VerdictKind> verdict;  ///< the worse channel's; absent: not scored
    std::string deciding;  ///< "left", "right", or empty when both (or none) decide
    std::string reason;    ///< names the channel; one line; empty for a plain pass

    [[nodiscard]] std::vector<const ScoredFigure*> figures() const;
    [[nodiscard]] const RatedFigure* rating() const;
};

struct RowGroup {
    std::string heading;
    std::string conditions;  ///< what all rows of the group share
    std::vector<FigureRow> rows;
};

/// Groups in the order in which their first figure was measured. Figures that have no number of
/// their own (harmonic tables, curves without a limit) and fitted frequencies have no row.
[[nodiscard]] std::vector<RowGroup> figure_rows(const RunDocument& run);

/// Verdicts counted by row: a row that holds left and right counts once, as the worse of the two.
struct RowCounts {
    std::map<analysis::VerdictKind, int> by_kind;
    int scored = 0;      ///< all but not_comparable
    int not_scored = 0;  ///< rows without a limit
    int assumed = 0;     ///< rows with a condition that the sheet does not state
};
[[nodiscard]] RowCounts count_rows(const std::vector<RowGroup>& groups);

/// "16 scored: 12 pass, 1 conditional pass, 1 fail. 1 not comparable. 2 with assumed conditions."
[[nodiscard]] std::string counts_text(const RowCounts& counts);

/// A row's numbers: one unit, one number of decimals, the larger of two uncertainties.
struct WrittenRow {
    ShownUnit unit;
    std::string left;           ///< "0.0108", "<0.0021", "none" when there is no number
    std::string right;          ///< empty for a single figure or a channel that was not measured
    std::string expanded;       ///< U, k = 2, the larger; empty when only bounds stand there
    std::string expanded_left;  ///< each channel's own U when they differ more than 1.5 times
    std::string expanded_right;
    std::string limit;   ///< without the unit; empty when not scored
    bool house = false;  ///< the limit is the shop's own
    std::string rig;     ///< largest that the rig may have added or hidden; "unknown"
};
[[nodiscard]] WrittenRow written(const FigureRow& row);

/// "0.59 dB inside", "1.9 dB outside": of the worse channel; empty without a limit or a number.
[[nodiscard]] std::string margin_text(const FigureRow& row);

/// Margin of `value` to the nearest side of `limit` in dB, inside positive (report: margin scale):
/// 20 lg of a ratio of volts, per cents, ohms, hertz or damping factors, 10 lg of watts, the plain
/// difference of figures in dB. Temperatures have none.
[[nodiscard]] std::optional<double> margin_db(FigureKind kind, double value, const Limit& limit);

/// Conditions that the row's ratings left open, each once: "20 Hz to 20 kHz, A-weighted"; empty
/// when there are none.
[[nodiscard]] std::string assumed_words(const FigureRow& row);

/// "left", "right", "both", "left into right": which channel a figure speaks of; empty for none.
[[nodiscard]] std::string channel_words(const Figure& figure);
/// "THD 1 W, 1 kHz, left": the label, else what the figure is, with its channel.
[[nodiscard]] std::string label_words(const ScoredFigure& scored);

}  // namespace afterload::runner
