#include "analysis/level_linearity.hpp"

#include "analysis/rig_part.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

namespace afterload::analysis {

namespace {

using Kind = BudgetLine::Kind;

constexpr double near_reference_db = 3.0;
// The ceiling for this kind of figure: above it a point says little.
constexpr double clear_expanded_db = 0.3;

double output_volts(const DrivenTone& driven) {
    return rms_of_sine(VoltsPeak{driven.tone.fit.fundamental.amplitude}).in<VoltsRms>();
}

double gain_db(const DrivenTone& driven) {
    return gain_of(AmplitudeRatio{output_volts(driven) / driven.drive.in<VoltsRms>()}).decibels();
}

const DrivenTone* reference_of(const std::vector<DrivenTone>& tones, VoltsRms reference) {
    const DrivenTone* best = nullptr;
    double best_distance = near_reference_db;
    for (const DrivenTone& driven : tones) {
        if (buried(driven.tone.fit)) {
            continue;
        }
        const AmplitudeRatio ratio{output_volts(driven) / reference.in<VoltsRms>()};
        const double distance = std::abs(gain_of(ratio).decibels());
        if (distance <= best_distance) {
            best = &driven;
            best_distance = distance;
        }
    }
    return best;
}

Budget budget_of(const DrivenTone& driven, const DrivenTone& reference,
                 const LinearitySettings& settings) {
    Budget budget;
    const BenchShare& here = driven.tone.bench;
    const BenchShare& there = reference.tone.bench;
    add_line(budget, Kind::noise, record_noise, "",
             decibels_a_neper *
                 std::hypot(relative_noise(driven.tone.fit), relative_noise(reference.tone.fit)));
    if (here.level_source != there.level_source) {
        add_line(budget, Kind::systematic, here.level_source, "level",
                 decibels_a_neper * here.level_u_k1);
        add_line(budget, Kind::systematic, there.level_source, "level at the reference",
                 decibels_a_neper * there.level_u_k1);
    }
    add_line(budget, Kind::systematic, settings.linearity_source, "linearity of source and input",
             decibels_a_neper * settings.linearity_u_k1);
    return budget;
}

struct Deviation {
    const DrivenTone* driven = nullptr;
    double decibels = 0.0;
    Budget budget;

    // What speaks against the unit: all of a clear deviation, of a noisy one what noise leaves.
    [[nodiscard]] double weight() const {
        const double reach = expanded(budget);
        return reach <= clear_expanded_db ? std::abs(decibels) : std::abs(decibels) - reach;
    }
    [[nodiscard]] bool clear() const { return expanded(budget) <= clear_expanded_db; }
};

void state_points(Figure& figure, const std::vector<Deviation>& deviations) {
    std::optional<double> lowest;
    std::optional<double> highest;
    for (const Deviation& point : deviations) {
        const double volts = output_volts(*point.driven);
        figure.details.emplace_back(fmt::format("deviation_at_{:.3g}_v", volts), point.decibels);
        figure.details.emplace_back(fmt::format("u_at_{:.3g}_v", volts), combined(point.budget));
        if (point.clear()) {
            lowest = std::min(lowest.value_or(volts), volts);
            highest = std::max(highest.value_or(volts), volts);
        }
    }
    if (lowest) {
        figure.details.emplace_back("lowest_v", *lowest);
        figure.details.emplace_back("highest_v", *highest);
    }
}

}  // namespace

Figure level_linearity(const std::vector<DrivenTone>& tones, const LinearitySettings& settings) {
    if (tones.empty()) {
        Figure nothing;
        nothing.kind = FigureKind::level_linearity;
        return without_value(std::move(nothing), "there are no tones to compare");
    }
    for (const DrivenTone& driven : tones) {
        if (!(driven.drive > VoltsRms{0.0})) {
            return without_value(begin(FigureKind::level_linearity, driven.tone),
                                 "a record of the series was not driven");
        }
    }
    const DrivenTone* reference =
        settings.reference > VoltsRms{0.0} ? reference_of(tones, settings.reference) : nullptr;
    if (reference == nullptr) {
        return without_value(begin(FigureKind::level_linearity, tones.front().tone),
                             fmt::format("no tone lies within {:.0f} dB of the reference level, "
                                         "{:.4g} V: record one there",
                                         near_reference_db, settings.reference.in<VoltsRms>()));
    }
    Figure figure = begin(FigureKind::level_linearity, reference->tone);
    figure.conditions.reference_level =
        LevelTarget{LevelTarget::Kind::output_volts, output_volts(*reference)};

    std::vector<Deviation> deviations;
    for (const DrivenTone& driven : tones) {
        if (&driven != reference && !buried(driven.tone.fit)) {
            deviations.push_back({&driven, gain_db(driven) - gain_db(*reference),
                                  budget_of(driven, *reference, settings)});
        }
    }
    if (deviations.empty()) {
        return without_value(std::move(figure),
                             "no second tone stands out of the noise: record longer, or on a lower "
                             "range");
    }
    std::ranges::stable_sort(deviations, {},
                             [](const Deviation& point) { return output_volts(*point.driven); });
    const auto worst = std::ranges::max_element(deviations, {}, &Deviation::weight);
    figure.value = worst->decibels;
    figure.budget = worst->budget;
    const RigPart part = calibrated_away(reference->tone.bench);
    figure.rig_added = part.added;
    figure.rig_cancelled = part.cancelled;
    figure.details.emplace_back("worst_at_v", output_volts(*worst->driven));
    state_points(figure, deviations);
    return figure;
}

}  // namespace afterload::analysis
