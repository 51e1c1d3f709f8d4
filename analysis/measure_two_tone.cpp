#include "analysis/measure_two_tone.hpp"

#include "analysis/rig_part.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <numbers>
#include <utility>

namespace afterload::analysis {

namespace {

using Kind = BudgetLine::Kind;

Figure begin_pair(FigureKind kind, const TwoToneRecord& tones) {
    const TwoToneFit& fit = tones.fit;
    Figure figure;
    figure.kind = kind;
    figure.channel = tones.channel;
    figure.conditions = tones.conditions;
    if (!figure.conditions.load) {
        figure.conditions.load = tones.bench.load;
    }
    figure.details = {
        {"low_tone", fit.low.frequency.in<Hertz>()},
        {"high_tone", fit.high.frequency.in<Hertz>()},
        {"low_over_high", fit.low.amplitude / fit.high.amplitude},
        {"equivalent_sine", (fit.low.amplitude + fit.high.amplitude) / std::numbers::sqrt2}};
    return figure;
}

void conclude(Figure& figure, const Estimate& ratio, const TwoToneRecord& tones) {
    figure.value = ratio.value;
    add_line(figure.budget, Kind::noise, record_noise, "", noise_of(ratio));
    for (const MissedProduct& missed : tones.fit.missed) {
        const int order = std::abs(missed.low_order) + std::abs(missed.high_order);
        if (missed.low_order != 0 && missed.high_order != 0 && order <= 3) {
            figure.details.emplace_back(
                fmt::format("left_out_{:+d}f1{:+d}f2{}", missed.low_order, missed.high_order,
                            missed.mains ? "_beside_mains" : ""),
                missed.frequency.in<Hertz>());
        }
    }
    state_rig(figure, of_distortion(tones.bench), ratio.bound);
}

}  // namespace

Figure modulation_distortion(const TwoToneRecord& tones) {
    Figure figure = begin_pair(FigureKind::modulation_distortion, tones);
    const Expected<ModulationDistortion> found = modulation_distortion(tones.fit);
    if (!found) {
        return without_value(std::move(figure), found.error().what);
    }
    figure.details.emplace_back("side_tones_counted", found->counted);
    figure.details.emplace_back("iec_second", found->iec_second);
    figure.details.emplace_back("iec_third", found->iec_third);
    figure.details.emplace_back("iec_together", std::hypot(found->iec_second, found->iec_third));
    figure.details.emplace_back("demodulated", found->demodulated);
    figure.details.emplace_back("side_tones_to_order_5", found->side_tones_to_order_5);
    conclude(figure, found->side_tones, tones);
    return figure;
}

Figure difference_frequency_distortion(const TwoToneRecord& tones) {
    Figure figure = begin_pair(FigureKind::difference_frequency_distortion, tones);
    const Expected<DifferenceDistortion> found = difference_distortion(tones.fit);
    if (!found) {
        return without_value(std::move(figure), found.error().what);
    }
    figure.details.emplace_back("products_counted", found->counted);
    figure.details.emplace_back("iec_second", found->iec_second);
    figure.details.emplace_back("iec_third", found->iec_third);
    figure.details.emplace_back("total", found->total);
    figure.details.emplace_back("second_over_one_tone", found->second_over_one_tone);
    conclude(figure, found->products, tones);
    return figure;
}

}  // namespace afterload::analysis
