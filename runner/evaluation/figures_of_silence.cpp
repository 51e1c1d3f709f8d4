#include "analysis/measure_quiet.hpp"
#include "runner/evaluation/figure_families.hpp"
#include "runner/evaluation/measured_conditions.hpp"

namespace afterload::runner {

namespace {

constexpr int density_columns = 20;  // a decade

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
    if (request.figure == FigureKind::noise_voltage) {
        if (settings.weighting == Weighting::unweighted) {
            analysis::add_density(noise, *own.quiet, density_columns);
        }
        return noise;
    }
    const auto reference = request.reference_level ? request.reference_level
                           : rated != nullptr      ? rated->conditions.reference_level
                                                   : std::nullopt;
    if (reference && reference->kind == LevelTarget::Kind::drive_volts) {
        return unresolved(request.figure, channel, conditions,
                          "the reference is " + text(*reference) +
                              " at the input: a run does not carry the gain of another step over "
                              "yet; ask for the noise voltage and divide");
    }
    const Ohms load = conditions.load.value_or(usual_load);
    const auto watts =
        watts_of(reference.value_or(LevelTarget{}), context.sheet, load, Channels::both);
    if (!watts) {
        return unresolved(request.figure, channel, conditions,
                          "no reference level: the sheet rates no power for this load");
    }
    Figure figure = analysis::signal_to_noise(noise, voltage_for(*watts, load));
    figure.conditions.reference_level = reference.value_or(LevelTarget{});
    return figure;
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
            const RatedFigure* rated = rating_for(request, conditions, context.sheet);
            scorer.add(silent_figure(request, rated, own, channel, conditions, context), conditions,
                       rated, opened.measured);
        }
    }
}

}  // namespace afterload::runner
