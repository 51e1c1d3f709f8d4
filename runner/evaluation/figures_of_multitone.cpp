#include "analysis/measure_multitone.hpp"
#include "runner/evaluation/figure_families.hpp"

#include <cmath>

namespace afterload::runner {
namespace {

using sequences::FigureRequest;

constexpr Hertz usual_reference{1000.0};

/// `opened` holds a multitone that was fitted.
analysis::MultitoneRecord multitone_record(const OpenRecord& opened, const Conditions& conditions) {
    const MultitoneOfRecord& multitone = *opened.multitone;
    return {multitone.views,
            *multitone.fit,
            multitone.source,
            {opened.of(1).bench, opened.of(2).bench},
            conditions};
}

Figure pair_or_channel(const FigureRequest& request, const RatedFigure* rated,
                       const analysis::MultitoneRecord& record,
                       const analysis::Alignment& alignment, int channel, Hertz at) {
    switch (request.figure) {
        case FigureKind::channel_separation:
            return analysis::multitone_separation(record, alignment, channel, 3 - channel, at);
        case FigureKind::gain:
            return analysis::multitone_gain(record, alignment, channel, at);
        case FigureKind::polarity:
            return analysis::multitone_polarity(record, alignment, channel);
        case FigureKind::channel_identity:
            return analysis::multitone_identity(record, alignment, channel);
        default: {
            const SampleRate rate = record.record.front().rate;
            return analysis::multitone_distortion_plus_noise(
                record, alignment, channel, noise_settings(request, rated, rate).bandwidth);
        }
    }
}

/// What the rig does to a response is its flatness, as stated by the bench.
void add_flatness(Figure& response, double u_k1_db) {
    if (!response.curve || u_k1_db <= 0.0) {
        return;
    }
    for (double& u : response.curve->u_k1) {
        u = std::hypot(u, u_k1_db);
    }
    response.budget.push_back({"flatness of the rig", BudgetLine::Kind::systematic, u_k1_db});
    response.rig_added = 0.0;
    response.rig_cancelled = 0.0;
}

}  // namespace

std::optional<Figure> response_of_multitone(const OpenRecord& opened, int channel, Hertz reference,
                                            const Conditions& conditions,
                                            const EvaluationContext& context) {
    if (opened.of(channel).drive <= 0.0) {
        return std::nullopt;
    }
    const MultitoneOfRecord& multitone = *opened.multitone;
    if (!multitone.fit) {
        return unresolved(FigureKind::frequency_response, channel, conditions, multitone.failure);
    }
    Figure response = analysis::multitone_response(multitone_record(opened, conditions),
                                                   multitone.alignment, channel, reference);
    add_flatness(response, context.bench.flatness_u_k1_db);
    return response;
}

void of_multitone(const FigureRequest& request, const OpenRecords& records, Scorer& scorer) {
    const EvaluationContext& context = scorer.context();
    for (const OpenRecord& opened : records) {
        Conditions conditions = with_request(opened.conditions, request);
        const Hertz at = request.reference_frequency.value_or(usual_reference);
        conditions.frequency = at;
        if (request.figure == FigureKind::thd_plus_noise) {
            conditions.signal = "multitone";  // not to be held against a figure of one sine
        }
        const RatedFigure* rated = rating_for(request, conditions, context.sheet);
        const MultitoneOfRecord& multitone = *opened.multitone;
        if (!multitone.fit) {
            scorer.add(unresolved(request.figure, 0, conditions, multitone.failure), conditions,
                       rated, opened.measured);
            continue;
        }
        const analysis::MultitoneRecord record = multitone_record(opened, conditions);
        const analysis::Alignment& alignment = multitone.alignment;
        if (request.figure == FigureKind::channel_balance) {
            scorer.add(analysis::multitone_balance(record, alignment, 1, 2, at), conditions, rated,
                       opened.measured);
            continue;
        }
        for (int channel = 1; channel <= 2; ++channel) {
            if (opened.of(channel).drive > 0.0) {
                scorer.add(pair_or_channel(request, rated, record, alignment, channel, at),
                           conditions, rated, opened.measured);
            }
        }
    }
}

}  // namespace afterload::runner
