#include "runner/evaluation/figure_families.hpp"

#include <array>

namespace afterload::runner {

void of_balance(const sequences::FigureRequest& request, const OpenRecords& records,
                Scorer& scorer) {
    const EvaluationContext& context = scorer.context();
    for (const OpenRecord& opened : records) {
        const auto& left = opened.channels[0];
        const auto& right = opened.channels[1];
        if (left.drive <= 0.0 || right.drive <= 0.0) {
            continue;
        }
        const Conditions conditions = with_request(opened.conditions, request);
        const RatedFigure* rated = rating_for(request, conditions, context.sheet);
        const std::array fits{fit_or_buried(opened, 1), fit_or_buried(opened, 2)};
        if (!fits[0] || !fits[1]) {
            scorer.add(unresolved(request.figure, 0, conditions, "no output in either channel"),
                       opened.conditions, rated, opened.measured);
            continue;
        }
        // The two channels are driven to one level, each with its own drive: the balance is
        // that of their gains.
        analysis::ToneRecord a{left.waveform.view(), *fits[0], 1, left.bench, conditions};
        analysis::ToneRecord b{right.waveform.view(), *fits[1], 2, right.bench, conditions};
        Figure figure = analysis::channel_balance(a, b);
        const double driven_apart = gain_of(AmplitudeRatio{left.drive / right.drive}).decibels();
        if (figure.value) {
            *figure.value -= driven_apart;
        }
        if (figure.bound) {
            figure.bound->value -= driven_apart;
        }
        scorer.add(std::move(figure), opened.conditions, rated, opened.measured);
    }
}

void of_separation(const sequences::FigureRequest& request, const OpenRecords& records,
                   Scorer& scorer) {
    const EvaluationContext& context = scorer.context();
    for (const OpenRecord& opened : records) {
        const bool left = opened.channels[0].drive > 0.0;
        const bool right = opened.channels[1].drive > 0.0;
        if (left == right) {
            continue;
        }
        const int from = left ? 1 : 2;
        const auto& driven = opened.of(from);
        const auto& quiet = opened.of(3 - from);
        const Conditions conditions = with_request(opened.conditions, request);
        const RatedFigure* rated = rating_for(request, conditions, context.sheet);
        Figure figure;
        if (driven.fit) {
            const analysis::ToneRecord tone{driven.waveform.view(), *driven.fit, from, driven.bench,
                                            conditions};
            figure = analysis::channel_separation(tone, quiet.waveform, 3 - from, quiet.bench,
                                                  context.mains_nominal);
        } else {
            figure = unresolved(request.figure, 0, conditions,
                                std::string{"no output from the driven channel, "} + side(from));
            figure.pair = {from, 3 - from};
        }
        scorer.add(std::move(figure), opened.conditions, rated, opened.measured);
    }
}

}  // namespace afterload::runner
