#include "runner/evaluation/figure_families.hpp"

#include <cmath>
#include <numbers>

namespace afterload::runner {

namespace {

/// A response takes the verdict of its worst point inside the rated range.
void worst_point(Figure& figure, const RatedFigure& rated) {
    const Band range = rated.conditions.tone_range.value_or(Band{Hertz{0.0}, Hertz{1e9}});
    const auto worst = analysis::worst_of(*figure.curve, range, rated.limit.at_least.value_or(-1e9),
                                          rated.limit.at_most.value_or(1e9));
    if (!worst) {
        figure.unresolved = "no point of the response lies inside the rated range";
        return;
    }
    figure.value = worst->value;
    figure.conditions.frequency = worst->frequency;
    figure.conditions.tone_range = rated.conditions.tone_range;
    // Which point is worst is a choice of this curve; its uncertainty is that of its own point.
    const double now = combined(figure.budget);
    if (now > 0.0 && worst->u_k1 > now) {
        figure.budget.push_back({"fit at the worst point", BudgetLine::Kind::noise,
                                 std::sqrt(worst->u_k1 * worst->u_k1 - now * now)});
    }
}

}  // namespace

void over_frequencies(const sequences::FigureRequest& request, const OpenRecords& records,
                      Scorer& scorer) {
    const EvaluationContext& context = scorer.context();
    const Hertz reference = request.reference_frequency.value_or(Hertz{1000.0});
    for (int channel = 1; channel <= 2; ++channel) {
        std::vector<analysis::ResponsePoint> points;
        const OpenRecord* any = nullptr;
        const MeasuredRecord* worst_record = nullptr;
        for (const OpenRecord& opened : records) {
            const auto& own = opened.of(channel);
            if (own.drive <= 0.0 || !own.fit) {
                continue;
            }
            any = &opened;
            if (!opened.measured->stored.sound || opened.measured->stored.unstable) {
                worst_record = opened.measured;
            }
            points.push_back({own.fit->fundamental.frequency,
                              own.fit->fundamental.amplitude / (std::numbers::sqrt2 * own.drive),
                              0.0, own.fit->fundamental.sigma / own.fit->fundamental.amplitude});
        }
        Conditions conditions = with_request(any != nullptr    ? any->conditions
                                             : records.empty() ? Conditions{}
                                                               : records.front().conditions,
                                             request);
        conditions.frequency.reset();
        conditions.reference_frequency = reference;
        const RatedFigure* rated = rating_for(request, conditions, context.sheet);
        if (any == nullptr) {
            scorer.add(unresolved(request.figure, channel, conditions, "no output"), conditions,
                       rated, nullptr);
            continue;
        }
        Figure figure = analysis::frequency_response(points, reference, channel,
                                                     context.bench.flatness_u_k1_db, conditions);
        if (request.figure != FigureKind::frequency_response) {
            const Gain fall = request.fall                                 ? *request.fall
                              : rated != nullptr && rated->conditions.fall ? *rated->conditions.fall
                                                                           : Gain{-3.0};
            figure = analysis::bandwidth(figure, request.figure == FigureKind::bandwidth_low, fall);
            scorer.add(std::move(figure), conditions, rated, worst_record);
            continue;
        }
        if (rated != nullptr && figure.curve) {
            worst_point(figure, *rated);
        }
        Conditions nominal = conditions;
        nominal.frequency = figure.conditions.frequency;
        scorer.add(std::move(figure), nominal, rated, worst_record);
    }
}

}  // namespace afterload::runner
