#include "runner/evaluation/figure_families.hpp"
#include "sequences/review.hpp"

namespace afterload::runner {

namespace {

/// The distortion a power is stated at: the one of the power rating for this load.
std::optional<double> power_thd(const Conditions& conditions, const RatingSheet& sheet) {
    const auto rated = sequences::rated_power(sheet, conditions.load.value_or(usual_load),
                                              conditions.channels_driven.value_or(Channels::both));
    return rated ? rated->thd : std::nullopt;
}

Figure tone_figure(const sequences::FigureRequest& request, const RatedFigure* rated,
                   const OpenRecord& opened, int channel, const Conditions& conditions,
                   const EvaluationContext& context) {
    const auto& own = opened.of(channel);
    const bool of_level = request.figure == FigureKind::output_voltage ||
                          request.figure == FigureKind::output_power ||
                          request.figure == FigureKind::gain;
    const auto fit = of_level ? fit_or_buried(opened, channel) : own.fit;
    if (!fit) {
        return unresolved(request.figure, channel, conditions, "no output: " + own.failure);
    }
    analysis::ToneRecord tone{own.waveform.view(), *fit, channel, own.bench, conditions};
    if (context.sheet.unit) {
        tone.nominal_mains = context.sheet.unit->mains_voltage;
    }
    const SampleRate rate = own.waveform.rate;
    switch (request.figure) {
        case FigureKind::output_voltage:
            return analysis::output_voltage(tone);
        case FigureKind::output_power:
            return analysis::output_power(tone);
        case FigureKind::gain:
            return analysis::gain(tone, VoltsRms{own.drive});
        case FigureKind::frequency:
            return analysis::frequency(tone);
        case FigureKind::thd:
            return analysis::thd(tone, harmonic_band(request, rated, rate));
        case FigureKind::harmonic:
            return analysis::harmonics(tone, harmonic_band(request, rated, rate));
        case FigureKind::thd_plus_noise:
            return analysis::thd_plus_noise(tone, noise_settings(request, rated, rate));
        case FigureKind::sinad:
            return analysis::sinad(tone, noise_settings(request, rated, rate));
        default:
            return unresolved(request.figure, channel, conditions,
                              "this version does not measure it from a tone");
    }
}

}  // namespace

void of_tone(const sequences::FigureRequest& request, const OpenRecords& records, Scorer& scorer) {
    const EvaluationContext& context = scorer.context();
    for (const OpenRecord& opened : records) {
        if (opened.driven().silent()) {
            continue;
        }
        for (int channel = 1; channel <= 2; ++channel) {
            const auto& own = opened.of(channel);
            if (own.drive <= 0.0) {
                continue;
            }
            Conditions conditions = with_request(opened.conditions, request);
            if (request.figure == FigureKind::output_power) {
                conditions.thd = request.thd ? request.thd : power_thd(conditions, context.sheet);
            }
            const RatedFigure* rated = rating_for(request, conditions, context.sheet);
            scorer.add(tone_figure(request, rated, opened, channel, conditions, context),
                       opened.conditions, rated, opened.measured);
        }
    }
}

}  // namespace afterload::runner
