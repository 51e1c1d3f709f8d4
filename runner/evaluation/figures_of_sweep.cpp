#include "analysis/measure_sweep.hpp"
#include "analysis/swept_response.hpp"
#include "runner/evaluation/driven_stimulus.hpp"
#include "runner/evaluation/figure_families.hpp"

namespace afterload::runner {
namespace {

/// The stimulus of one channel as its source was asked to play it, in volts at the card's rate.
Waveform played(const DrivenAs& driven, std::size_t channel, SampleRate rate) {
    const DrivenStimulus made = driven_stimulus(driven, rate, std::nullopt);
    Waveform waveform;
    waveform.rate = rate;
    waveform.volts.resize(
        static_cast<std::size_t>(frames_in(sweep_plan(driven).length, rate).count()));
    add_samples(made.stimulus, channel, rate, 0.0, Frames{0}, waveform.volts);
    return waveform;
}

/// The value at the frequency that the rating states, or the worst inside its range.
void at_the_rated_frequency(Figure& figure, const RatedFigure& rated) {
    constexpr double near = 1.03;  // the points of a sweep stand 24 to an octave
    Band range{Hertz{0.0}, Hertz{1e9}};
    if (rated.conditions.tone_range) {
        range = *rated.conditions.tone_range;
    } else if (rated.conditions.frequency) {
        range = {1.0 / near * *rated.conditions.frequency, near * *rated.conditions.frequency};
    }
    const auto worst = analysis::worst_of(*figure.curve, range, rated.limit.at_least.value_or(-1e9),
                                          rated.limit.at_most.value_or(1e9));
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
    const Waveform stimulus =
        played(opened.driven(), static_cast<std::size_t>(channel) - 1, own.waveform.rate);
    const auto swept =
        analysis::swept_response(own.waveform, stimulus, sweep_plan(opened.driven()));
    conditions.frequency.reset();
    if (!swept) {
        return unresolved(FigureKind::frequency_response, channel, conditions,
                          "the sweep is not in the record: " + swept.error().what);
    }
    const analysis::SweptRecord record{*swept, channel, own.bench, std::move(conditions)};
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
            const Waveform stimulus =
                played(opened.driven(), static_cast<std::size_t>(channel) - 1, own.waveform.rate);
            const auto swept =
                analysis::swept_response(own.waveform, stimulus, sweep_plan(opened.driven()));
            Figure figure =
                swept ? analysis::swept_distortion({*swept, channel, own.bench, conditions})
                      : unresolved(FigureKind::thd, channel, conditions,
                                   "the sweep is not in the record: " + swept.error().what);
            if (rated != nullptr && figure.curve) {
                at_the_rated_frequency(figure, *rated);
            }
            scorer.add(std::move(figure), conditions, rated, opened.measured);
        }
    }
}

}  // namespace afterload::runner
