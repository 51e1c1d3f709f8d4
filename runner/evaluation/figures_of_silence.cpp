#include "analysis/measure_quiet.hpp"
#include "analysis/measure_signal_to_noise.hpp"
#include "runner/evaluation/figure_families.hpp"
#include "runner/evaluation/known_gain.hpp"
#include "runner/evaluation/measured_conditions.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

namespace afterload::runner {

namespace {

constexpr int density_columns = 20;  // a decade

// The volts behind a reference where this noise was measured.
analysis::Expected<analysis::SignalReference> reference_here(const LevelTarget& level, int channel,
                                                             const Conditions& conditions,
                                                             const EvaluationContext& context) {
    const Ohms load = conditions.load.value_or(usual_load);
    if (level.kind != LevelTarget::Kind::drive_volts) {
        return analysis::signal_reference(
            level, load, watts_of(LevelTarget{}, context.sheet, load, Channels::both), {});
    }
    const auto gain = known_gain(context.done, channel, conditions);
    if (!gain) {
        return tl::unexpected(analysis::FigureFailure{
            analysis::FigureFailure::Kind::out_of_range,
            fmt::format("the reference is {} at the input, and no step before this one measured "
                        "the {} channel's gain near 1 kHz with the controls as they are here: put "
                        "a tone with `gain` before it",
                        text(level), side(channel))});
    }
    auto reference = analysis::signal_reference(
        level, load, {}, AmplitudeRatio{std::pow(10.0, *gain->value / 20.0)});
    if (reference) {
        reference->budget = gain->budget;
    }
    return reference;
}

// Re what was asked for, else what the sheet refers to, else rated output. Where the sheet refers
// to something else than was asked for, the ratio is converted, or the figure says why it is not.
Figure ratio_to(const Figure& noise, const sequences::FigureRequest& request,
                const RatedFigure* rated, const EvaluationContext& context) {
    const auto cannot = [&](std::string why) {
        return unresolved(FigureKind::signal_to_noise, noise.channel, noise.conditions,
                          std::move(why));
    };
    const auto sheets = rated != nullptr ? rated->conditions.reference_level : std::nullopt;
    const LevelTarget asked = request.reference_level.value_or(sheets.value_or(LevelTarget{}));
    const auto first = reference_here(asked, noise.channel, noise.conditions, context);
    if (!first) {
        return cannot(first.error().what);
    }
    Figure ratio = analysis::signal_to_noise(noise, *first);
    if (!sheets || *sheets == asked) {
        return ratio;
    }
    const auto second = reference_here(*sheets, noise.channel, noise.conditions, context);
    if (!second) {
        return cannot(second.error().what);
    }
    // What nobody said of the input stays open either way.
    Conditions wanted = rated->conditions;
    if (!noise.conditions.termination) {
        wanted.termination.reset();
    }
    return analysis::converted(ratio, *second, wanted);
}

// The rating that a signal-to-noise is held against may refer to another level than was asked for.
const RatedFigure* rating_of_silence(const sequences::FigureRequest& request,
                                     const Conditions& conditions, const RatingSheet& sheet) {
    const RatedFigure* rated = rating_for(request, conditions, sheet);
    if (rated != nullptr || request.figure != FigureKind::signal_to_noise) {
        return rated;
    }
    Conditions any_reference = conditions;
    any_reference.reference_level.reset();
    return rating_for(request, any_reference, sheet);
}

Figure silent_figure(const sequences::FigureRequest& request, const RatedFigure* rated,
                     const ChannelOfRecord& own, int channel, const Conditions& conditions,
                     const EvaluationContext& context) {
    if (request.figure == FigureKind::hum_voltage) {
        return analysis::hum_voltage(*own.quiet, channel, own.bench, conditions);
    }
    if (request.figure == FigureKind::random_steps) {
        return analysis::random_steps(*own.quiet, channel, own.bench, conditions);
    }
    const auto settings = noise_settings(request, rated, own.waveform.rate);
    Figure noise = analysis::noise(*own.quiet, channel, settings, own.bench, conditions);
    if (request.figure == FigureKind::signal_to_noise) {
        return ratio_to(noise, request, rated, context);
    }
    if (settings.weighting == Weighting::unweighted) {
        analysis::add_density(noise, *own.quiet, density_columns);
    }
    return noise;
}

}  // namespace

void of_silence(const sequences::FigureRequest& request, const OpenRecords& records,
                Scorer& scorer) {
    const EvaluationContext& context = scorer.context();
    for (const OpenRecord& opened : records) {
        if (!opened.driven().silent()) {
            continue;
        }
        for (int channel = 1; channel <= 2; ++channel) {
            const auto& own = opened.of(channel);
            const Conditions conditions = with_request(opened.conditions, request);
            const RatedFigure* rated = rating_of_silence(request, conditions, context.sheet);
            scorer.add(silent_figure(request, rated, own, channel, conditions, context), conditions,
                       rated, opened.measured);
        }
    }
}

}  // namespace afterload::runner
