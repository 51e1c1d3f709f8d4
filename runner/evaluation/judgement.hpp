/// From a step's records to what the run's document says of them, and from all steps to the run's
/// verdict. Pure, so that a replay says the same.
#pragma once

#include "runner/evaluation/evaluate.hpp"
#include "runner/papers/run_document.hpp"

#include <string_view>
#include <vector>

namespace afterload::runner {

/// The rule that figures are judged by, chosen before measuring and printed on the report.
[[nodiscard]] std::string_view decision_rule();

/// Fills `result.figures` from its readings and `records`, and adds spectra worth drawing: of what
/// failed, and at rated output.
void evaluate_step(const sequences::Step& step, const StepPath& path,
                   const std::vector<MeasuredRecord>& records, const EvaluationContext& context,
                   StepResult& result, std::vector<SpectrumPlot>& spectra);

/// Fills in what was not tested, the counts and the run's verdict. `sheet` is the unit's own with
/// the house's laid under it.
void complete(RunDocument& run, const RatingSheet& sheet);

}  // namespace afterload::runner
