/// From a step's records to scored figures. Pure: the same records give the same figures to the
/// last digit, whether they were just made or are read back from a run folder years later.
#pragma once

#include "analysis/rating.hpp"
#include "runner/evaluation/measured_record.hpp"
#include "runner/papers/run_document.hpp"
#include "sequences/bench_file.hpp"
#include "sequences/sequence.hpp"

#include <span>
#include <vector>

namespace afterload::runner {

/// What a step is judged with.
struct EvaluationContext {
    const RatingSheet& sheet;  ///< the unit's own with the house's laid under it
    const sequences::BenchFile& bench;
    std::optional<Hertz> mains_nominal;
    std::span<const StepResult> done{};  ///< the run's steps before this one
};

/// How a step was carried out, as far as figures need it: the signal path as it stood.
struct StepPath {
    std::string input = "line";
    std::string output = "speaker_a";
    std::string path = "direct";
    std::string volume = "maximum";
    std::string tone_controls = "flat";
};

/// Figures of `step` from its records, in the order of the requests, left before right, each held
/// against the rating that applies.
[[nodiscard]] std::vector<ScoredFigure> evaluate(const sequences::Step& step, const StepPath& path,
                                                 const std::vector<MeasuredRecord>& records,
                                                 const EvaluationContext& context);

/// A slow reading as a figure (temperature, mains, offset where it is not a gate), scored if rated.
[[nodiscard]] std::optional<ScoredFigure> evaluate_reading(const std::string& step_name,
                                                           const SlowReading& reading,
                                                           const EvaluationContext& context);

/// The spectrum of the left or right channel of a record, thinned for a plot.
[[nodiscard]] std::optional<SpectrumPlot> spectrum_plot(const MeasuredRecord& record, int channel,
                                                        const std::string& title);

}  // namespace afterload::runner
