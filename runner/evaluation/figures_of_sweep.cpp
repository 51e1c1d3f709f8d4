#include "analysis/measure_sweep.hpp"
#include "runner/evaluation/figure_families.hpp"

namespace afterload::runner {
namespace {

/// The value at the frequency that the rating states, or the worst inside its range.
void at_the_rated_frequency(Figure& figure, const RatedFigure& rated) {
    constexpr double near = 1.03;  // the points of a sweep stand 24 to an octave
    Band range{Hertz{0.0}, Hertz{1e9}};
    if (rated.conditions.tone_range) {
        range = *rated.conditions.tone_range;
    } else if (rated.conditions.frequency) {
        range = {1.0 / near * *rated.conditions.frequency, near * *rated.conditions.frequency};
    }
    const auto worst = worst_inside(*figure.curve, range, rated);
    if (!worst) {
        figure.unresolved = "no point of the sweep lies where the rating asks for it";
        return;
    }
    figure.value = worst->value;
    figure.conditions.frequency = worst->frequency;
    figure.budget.clear();
    figure.budget.push_back({"record noise", BudgetLine::Kind::noise, worst->u_k1});
}

}  // namespace

std::optional<Figure> response_of_sweep(const OpenRecord& opened, int channel, Hertz reference,
                                        Conditions conditions, double flatness_u_k1_db) {
    const ChannelOfRecord& own = opened.of(channel);
    if (own.drive <= 0.0) {
        return std::nullopt;
    }
    conditions.frequency.reset();
    if (!own.swept) {
        return unresolved(FigureKind::frequency_response, channel, conditions,
                          "the sweep is not in the record: " + own.failure);
    }
    const analysis::SweptRecord record{*own.swept, channel, own.bench, std::move(conditions)};
    return analysis::swept_frequency_response(record, reference, flatness_u_k1_db);
}

void distortion_of_sweep(const sequences::FigureRequest& request, const OpenRecords& records,
                         Scorer& scorer) {
    for (const OpenRecord& opened : records) {
        for (int channel = 1; channel <= 2; ++channel) {
            const ChannelOfRecord& own = opened.of(channel);
            if (own.drive <= 0.0) {
                continue;
            }
            Conditions conditions = with_request(opened.conditions, request);
            conditions.frequency.reset();
            const RatedFigure* rated = rating_for(request, conditions, scorer.context().sheet);
            Figure figure =
                own.swept ? analysis::swept_distortion({*own.swept, channel, own.bench, conditions})
                          : unresolved(FigureKind::thd, channel, conditions,
                                       "the sweep is not in the record: " + own.failure);
            if (rated != nullptr && figure.curve) {
                at_the_rated_frequency(figure, *rated);
            }
            scorer.add(std::move(figure), conditions, rated, opened.measured);
        }
    }
}

}  // namespace afterload::runner
