/// Collects the figures of one step: names each, picks the rating that applies, holds it against
/// that.
#pragma once

#include "runner/evaluation/evaluate.hpp"

#include <string>
#include <vector>

namespace afterload::runner {

/// The rating a figure is held against: the one asked for by id, else the maker's that applies,
/// else the house's; null when there is none or the figure is not scored.
[[nodiscard]] const RatedFigure* rating_for(const sequences::FigureRequest& request,
                                            const Conditions& conditions, const RatingSheet& sheet);

/// Gives `scored` the rating and its verdict; nothing without a rating. `record` is the one behind
/// it, null where there is none or several are.
void hold_against(ScoredFigure& scored, const RatedFigure* rated, const StoredRecord* record);

/// What one request adds to the conditions before its rating is chosen.
[[nodiscard]] Conditions with_request(Conditions conditions,
                                      const sequences::FigureRequest& request);

/// A figure that cannot be had: `why` says what would give it.
[[nodiscard]] Figure unresolved(FigureKind kind, int channel, const Conditions& conditions,
                                std::string why);

/// "left", "right", "both".
[[nodiscard]] const char* side(int channel);

class Scorer {
public:
    Scorer(const std::string& step, const EvaluationContext& context)
        : step_{step}, context_{context} {}

    /// `nominal` holds level and frequency as the sheet names them; `record` is the one behind the
    /// figure, null where all of the step's are: an unsound one resolves nothing.
    void add(Figure figure, const Conditions& nominal, const RatedFigure* rated,
             const MeasuredRecord* record);

    [[nodiscard]] const EvaluationContext& context() const { return context_; }
    [[nodiscard]] std::vector<ScoredFigure> take() { return std::move(figures_); }

private:
    const std::string& step_;
    const EvaluationContext& context_;
    std::vector<ScoredFigure> figures_;
};

}  // namespace afterload::runner
