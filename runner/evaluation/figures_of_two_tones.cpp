#include "analysis/measure_two_tone.hpp"
#include "analysis/two_tone.hpp"
#include "runner/evaluation/figure_families.hpp"

namespace afterload::runner {

void of_two_tones(const sequences::FigureRequest& request, const OpenRecords& records,
                  Scorer& scorer) {
    const EvaluationContext& context = scorer.context();
    for (const OpenRecord& opened : records) {
        for (int channel = 1; channel <= 2; ++channel) {
            const ChannelOfRecord& own = opened.of(channel);
            if (own.drive <= 0.0 || opened.driven().tones.size() != 2) {
                continue;
            }
            Conditions conditions = with_request(opened.conditions, request);
            conditions.frequency.reset();
            const RatedFigure* rated = rating_for(request, conditions, context.sheet);
            const analysis::TwoToneSettings settings{
                opened.driven().tones[0], opened.driven().tones[1], context.mains_nominal};
            const auto fit = analysis::fit_two_tones(own.waveform, settings);
            if (!fit) {
                scorer.add(unresolved(request.figure, channel, conditions,
                                      "no output: " + fit.error().what),
                           conditions, rated, opened.measured);
                continue;
            }
            const analysis::TwoToneRecord record{*fit, channel, own.bench, conditions};
            scorer.add(request.figure == FigureKind::modulation_distortion
                           ? analysis::modulation_distortion(record)
                           : analysis::difference_frequency_distortion(record),
                       conditions, rated, opened.measured);
        }
    }
}

}  // namespace afterload::runner
