#include "runner/evaluation/judgement.hpp"

#include "runner/evaluation/measured_conditions.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

namespace afterload::runner {
namespace {

constexpr std::size_t most_spectra = 4;

/// A record's spectrum is worth a picture when its distortion is in question, or at rated output.
bool worth_drawing(const ScoredFigure& scored) {
    if (scored.figure.kind != FigureKind::thd || !scored.verdict) {
        return false;
    }
    const auto kind = scored.verdict->kind;
    return kind == analysis::VerdictKind::fail || kind == analysis::VerdictKind::conditional_fail;
}

bool at_rated_output(const StoredRecord& stored) {
    return !stored.driven.silent() && stored.driven.target &&
           stored.driven.target->kind == LevelTarget::Kind::rated_fraction &&
           stored.driven.target->value == 1.0 && stored.driven.nominal > Hertz{900.0} &&
           stored.driven.nominal < Hertz{1100.0};
}

void add_spectrum(const MeasuredRecord& record, int channel, const std::string& title,
                  std::vector<SpectrumPlot>& spectra) {
    const bool there = std::any_of(spectra.begin(), spectra.end(), [&](const SpectrumPlot& plot) {
        return plot.title == title && plot.channel == channel;
    });
    if (there || spectra.size() >= most_spectra) {
        return;
    }
    if (auto plot = spectrum_plot(record, channel, title)) {
        spectra.push_back(*std::move(plot));
    }
}

void add_spectra(const StepResult& result, const std::vector<MeasuredRecord>& records,
                 std::vector<SpectrumPlot>& spectra) {
    for (const ScoredFigure& scored : result.figures) {
        if (!worth_drawing(scored)) {
            continue;
        }
        for (const MeasuredRecord& record : records) {
            const DrivenAs& driven = record.stored.driven;
            const bool same_level = driven.target == scored.figure.conditions.output_level;
            const bool same_tone =
                scored.figure.conditions.frequency &&
                std::abs(driven.nominal / *scored.figure.conditions.frequency - 1.0) < 0.01;
            if (same_level && same_tone) {
                add_spectrum(record, scored.figure.channel,
                             "at the condition that failed: " + scored.label, spectra);
                break;
            }
        }
    }
    const bool has_thd =
        std::any_of(result.figures.begin(), result.figures.end(),
                    [](const auto& s) { return s.figure.kind == FigureKind::thd; });
    for (const MeasuredRecord& record : records) {
        if (has_thd && at_rated_output(record.stored) && result.group == "Direct path") {
            add_spectrum(record, 1, "at rated output, 1 kHz", spectra);
            add_spectrum(record, 2, "at rated output, 1 kHz", spectra);
        }
    }
}

/// A rated figure in words, for the list of what was not tested.
std::string in_words(const RatedFigure& rated, const RatingSheet& sheet) {
    std::string text = label_of(rated.figure, rated.conditions, sheet);
    if (rated.conditions.load && rated.figure == FigureKind::output_power) {
        text += fmt::format(" into {:g} ohm", rated.conditions.load->in<Ohms>());
    }
    if (rated.conditions.input && *rated.conditions.input != "line") {
        text += ", " + *rated.conditions.input;
    }
    return text;
}

}  // namespace

std::string_view decision_rule() {
    return "A figure passes or fails when it is inside or outside its limit by more than its "
           "expanded uncertainty (k = 2) and what the rig itself may have added or hidden "
           "together; nearer than that the verdict is conditional; within what the rig alone could "
           "explain it is not resolvable (after ILAC-G8:09/2019, 4.2.3, the rig's part on the safe "
           "side). Where one further record was made because the first left the verdict open, one "
           "and a half times that uncertainty counts. Chosen before measuring.";
}

void evaluate_step(const sequences::Step& step, const StepPath& path,
                   const std::vector<MeasuredRecord>& records, const EvaluationContext& context,
                   StepResult& result, std::vector<SpectrumPlot>& spectra) {
    for (const SlowReading& reading : result.readings) {
        if (reading.gate) {
            continue;
        }
        if (auto scored = evaluate_reading(step.name, reading, context)) {
            result.figures.push_back(*std::move(scored));
        }
    }
    auto figures = evaluate(step, path, records, context);
    std::move(figures.begin(), figures.end(), std::back_inserter(result.figures));
    add_spectra(result, records, spectra);
}

void complete(RunDocument& run, const RatingSheet& sheet) {
    std::set<std::string> scored;
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& figure : step.figures) {
            if (figure.rating) {
                scored.insert(figure.rating->id);
            }
        }
    }
    // What stands from the run that this one is a retest of was tested there.
    for (const FigureThatStands& figure :
         run.retest ? run.retest->stands : std::vector<FigureThatStands>{}) {
        scored.insert(figure.rating);
    }
    run.not_tested.clear();
    for (const RatedFigure& rated : sheet.figures) {
        // A gate is passed before anything is driven and is no row.
        const bool gate = rated.figure == FigureKind::dc_offset;
        if (rated.origin == RatedFigure::Origin::maker && !gate && !scored.contains(rated.id)) {
            run.not_tested.push_back(in_words(rated, sheet));
        }
    }
    for (const StepResult& step : run.steps) {
        if (!step.skipped.empty()) {
            run.not_tested.push_back(step.name + " (" + step.skipped + ")");
        }
    }
    conclude(run);
}

}  // namespace afterload::runner
