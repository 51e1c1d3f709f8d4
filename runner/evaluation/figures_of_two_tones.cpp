#include "analysis/measure_two_tone.hpp"
#include "runner/evaluation/figure_families.hpp"

namespace afterload::runner {

void of_two_tones(const sequences::FigureRequest& request, const OpenRecords& records,
                  Scorer& scorer) {
    const EvaluationContext& context = scorer.context();
    for (const OpenRecord& opened : records) {
        for (int channel = 1; channel <= 2; ++channel) {
            const ChannelOfRecord& own = opened.of(channel);
            if (own.drive <= 0.0) {
                continue;
            }
            Conditions conditions = with_request(opened.conditions, request);
            conditions.frequency.reset();
            const RatedFigure* rated = rating_for(request, conditions, context.sheet);
            if (!own.pair) {
                scorer.add(
                    unresolved(request.figure, channel, conditions, "no output: " + own.failure),
                    conditions, rated, opened.measured);
                continue;
            }
            const analysis::TwoToneRecord record{*own.pair, channel, own.bench, conditions};
            scorer.add(request.figure == FigureKind::modulation_distortion
                           ? analysis::modulation_distortion(record)
                           : analysis::difference_frequency_distortion(record),
                       conditions, rated, opened.measured);
        }
    }
}

}  // namespace afterload::runner
