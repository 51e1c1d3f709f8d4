#include "analysis/phono_curve.hpp"
#include "runner/evaluation/figure_families.hpp"

#include <cmath>
#include <numbers>

namespace afterload::runner {

namespace {

/// A response takes the verdict of its worst point inside the rated range.
void worst_point(Figure& figure, const RatedFigure& rated) {
    const Band range = rated.conditions.tone_range.value_or(Band{Hertz{0.0}, Hertz{1e9}});
    const auto worst = worst_inside(*figure.curve, range, rated);
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

/// A channel's response with what it takes to score it.
struct Response {
    Figure figure;
    const MeasuredRecord* questionable = nullptr;  ///< a record that resolves nothing, if any
};

Response stepped_response(const OpenRecords& records, int channel, Hertz reference,
                          const Conditions& conditions, double flatness_u_k1_db) {
    Response response;
    std::vector<analysis::ResponsePoint> points;
    for (const OpenRecord& opened : records) {
        const auto& own = opened.of(channel);
        if (own.drive <= 0.0 || !own.fit) {
            continue;
        }
        if (!opened.measured->stored.sound || opened.measured->stored.unstable) {
            response.questionable = opened.measured;
        }
        points.push_back({own.fit->fundamental.frequency,
                          own.fit->fundamental.amplitude / (std::numbers::sqrt2 * own.drive), 0.0,
                          own.fit->fundamental.sigma / own.fit->fundamental.amplitude});
    }
    response.figure = points.empty() ? unresolved(FigureKind::frequency_response, channel,
                                                  conditions, "no output")
                                     : analysis::frequency_response(points, reference, channel,
                                                                    flatness_u_k1_db, conditions);
    return response;
}

/// A sweep answers in one record; the last of several counts.
Response response_of(const OpenRecords& records, int channel, Hertz reference,
                     const Conditions& conditions, const EvaluationContext& context) {
    const double flatness_u_k1_db = context.bench.flatness_u_k1_db;
    Response response;
    bool whole = false;
    for (const OpenRecord& opened : records) {
        std::optional<Figure> figure;
        if (opened.driven().signal == sequences::Signal::sweep) {
            figure = response_of_sweep(opened, channel, reference, conditions, flatness_u_k1_db);
        }
        if (opened.driven().signal == sequences::Signal::multitone) {
            figure = response_of_multitone(opened, channel, reference, conditions, context);
        }
        if (figure) {
            whole = true;
            response.figure = *std::move(figure);
            response.questionable = opened.measured->stored.sound ? nullptr : opened.measured;
        }
    }
    return whole ? response
                 : stepped_response(records, channel, reference, conditions, flatness_u_k1_db);
}

analysis::PhonoCurve phono_curve(const RatedFigure* rated) {
    const bool amended = rated != nullptr && rated->conditions.curve &&
                         *rated->conditions.curve == name(analysis::PhonoCurve::iec_60098_amended);
    return amended ? analysis::PhonoCurve::iec_60098_amended : analysis::PhonoCurve::iec_60098;
}

/// The band that a rating speaks of; without one the audio band.
Band rated_band(const RatedFigure* rated) {
    return rated != nullptr && rated->conditions.tone_range ? *rated->conditions.tone_range
                                                            : Band{Hertz{20.0}, Hertz{20000.0}};
}

}  // namespace

void over_frequencies(const sequences::FigureRequest& request, const OpenRecords& records,
                      Scorer& scorer) {
    const EvaluationContext& context = scorer.context();
    const Hertz reference = request.reference_frequency.value_or(Hertz{1000.0});
    for (int channel = 1; channel <= 2; ++channel) {
        Conditions conditions =
            with_request(records.empty() ? Conditions{} : records.front().conditions, request);
        conditions.frequency.reset();
        conditions.reference_frequency = reference;
        const RatedFigure* rated = rating_for(request, conditions, context.sheet);
        Response response = response_of(records, channel, reference, conditions, context);
        Figure& figure = response.figure;
        Conditions nominal = conditions;
        switch (request.figure) {
            case FigureKind::bandwidth_low:
            case FigureKind::bandwidth_high: {
                const Gain fall = request.fall ? *request.fall
                                  : rated != nullptr && rated->conditions.fall
                                      ? *rated->conditions.fall
                                      : Gain{-3.0};
                figure =
                    analysis::bandwidth(figure, request.figure == FigureKind::bandwidth_low, fall);
                break;
            }
            case FigureKind::equalisation_error:
                figure =
                    analysis::equalisation_error(figure, phono_curve(rated), rated_band(rated));
                break;
            default:
                if (rated != nullptr && figure.curve) {
                    worst_point(figure, *rated);
                }
                nominal.frequency = figure.conditions.frequency;
                break;
        }
        scorer.add(std::move(figure), nominal, rated, response.questionable);
    }
}

}  // namespace afterload::runner
