/// Two runs of one unit, figure by figure: the same unit before and after.
#pragma once

#include "analysis/difference.hpp"
#include "runner/papers/run_document.hpp"

#include <map>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// One figure in both runs. Points into the documents it was made from.
struct ComparedFigure {
    const ScoredFigure* before = nullptr;
    const ScoredFigure* after = nullptr;
    std::size_t step_before = 0;  ///< in whose records each stands
    std::size_t step_after = 0;
    analysis::Difference difference;
};

/// Left and right of one figure, as a sheet has them.
struct ComparedRow {
    std::string label;
    FigureKind kind = FigureKind::output_voltage;
    bool single = false;  ///< not of one channel; stands in `left`
    std::optional<ComparedFigure> left;
    std::optional<ComparedFigure> right;

    [[nodiscard]] std::vector<const ComparedFigure*> figures() const;
};

struct ComparedGroup {
    std::string heading;
    std::string conditions;
    std::vector<ComparedRow> rows;
};

struct RunComparison {
    const RunDocument* before = nullptr;
    const RunDocument* after = nullptr;
    bool same_rig = true;
    double repeats_freedom = 0.0;  ///< of the shop's own repeats; 0: the table was used
    std::vector<ComparedGroup> groups;
    std::vector<std::string> only_before;  ///< labels of what was measured in one run alone
    std::vector<std::string> only_after;

    /// Figures by what became of them, each channel for itself.
    [[nodiscard]] std::map<analysis::ChangeKind, int> counts() const;
    [[nodiscard]] int with(analysis::Sense sense) const;  ///< changed, that way
};

/// The units differ: "model H40 in one run, S60 in another"; empty when they are the same. A serial
/// number that one run lacks differs from one that the other has.
[[nodiscard]] std::string other_unit(const RunDocument& one, const RunDocument& other);

/// Were both made on one rig? The same card, and where it is simulated the same draw of it.
[[nodiscard]] bool same_rig(const RunDocument& one, const RunDocument& other);

/// Compares the two. `all` are the runs from which the shop's own repeats are taken, these two
/// among them: runs of one stage are repeats of each other, for nothing was done to the unit in
/// between. Of two runs of the same stage neither counts as a repeat, or a change would hide
/// itself.
[[nodiscard]] RunComparison compared(const RunDocument& before, const RunDocument& after,
                                     const std::vector<const RunDocument*>& all);

}  // namespace afterload::runner
