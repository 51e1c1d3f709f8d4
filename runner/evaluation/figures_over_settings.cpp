#include "analysis/control_range.hpp"
#include "analysis/level.hpp"
#include "analysis/level_linearity.hpp"
#include "analysis/output_impedance.hpp"
#include "runner/evaluation/figure_families.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <optional>
#include <utility>
#include <vector>

namespace afterload::runner {
namespace {

using sequences::FigureRequest;

/// How far the unit's gain, the source and the card's input drift between two records that follow
/// each other, relative: 0.001 dB, what the simulated and usual cards hold over a minute (common
/// practice).
constexpr double short_drift = 1.2e-4;
constexpr const char* drift_source = "drift between two records";
/// Linearity of source and input over four decades of level: 0.01 dB (common practice; a bench's
/// own finding would replace it).
constexpr double linearity = 1.2e-3;
constexpr const char* linearity_source = "linearity of source and input";

analysis::ToneRecord tone_of(const OpenRecord& opened, int channel, const analysis::ToneFit& fit,
                             const Conditions& conditions) {
    const ChannelOfRecord& own = opened.of(channel);
    return {own.waveform.view(), fit, channel, own.bench, conditions};
}

bool usable(const OpenRecord& opened, int channel) {
    return opened.of(channel).drive > 0.0;
}

/// The level from which the gain counts: the one nearest to 1 V.
VoltsRms nearest_to_one_volt(const std::vector<std::optional<analysis::ToneFit>>& fits) {
    VoltsRms nearest{1.0};
    double distance = std::numeric_limits<double>::infinity();
    for (const auto& fit : fits) {
        const VoltsRms level = rms_of_sine(VoltsPeak{fit->fundamental.amplitude});
        const double away = std::abs(std::log(std::max(level.in<VoltsRms>(), 1e-12)));
        if (away < distance) {
            distance = away;
            nearest = level;
        }
    }
    return nearest;
}

const MeasuredRecord* first_unsound(const OpenRecords& records) {
    for (const OpenRecord& opened : records) {
        if (!opened.measured->stored.sound) {
            return opened.measured;
        }
    }
    return nullptr;
}

/// Did both records hang on one and the same drive?
bool same_drive(const DrivenAs& a, const DrivenAs& b) {
    return a.nominal == b.nominal && a.drive_left_volts == b.drive_left_volts &&
           a.drive_right_volts == b.drive_right_volts;
}

/// To a figure in dB that compares two levels: what source and input do not do alike at both, and
/// drift meanwhile.
void add_linearity(Figure& figure) {
    if (!figure.value) {
        return;
    }
    constexpr double decibels_a_neper = 20.0 / std::numbers::ln10;
    figure.budget.push_back(
        {linearity_source, BudgetLine::Kind::systematic, decibels_a_neper * linearity});
    figure.budget.push_back(
        {drift_source, BudgetLine::Kind::systematic, decibels_a_neper * short_drift});
}

/// The records of the lighter of two loads: those with an open output, else those of the loads that
/// are not the heaviest.
std::vector<const OpenRecord*> lighter_of(const OpenRecords& loaded, const OpenRecords& unloaded,
                                          int channel) {
    std::vector<const OpenRecord*> light;
    for (const OpenRecord& record : unloaded) {
        light.push_back(&record);
    }
    if (!light.empty()) {
        return light;
    }
    std::optional<Ohms> heaviest;
    for (const OpenRecord& record : loaded) {
        const auto& load = record.of(channel).bench.load;
        if (load && (!heaviest || *load < *heaviest)) {
            heaviest = load;
        }
    }
    for (const OpenRecord& record : loaded) {
        const auto& load = record.of(channel).bench.load;
        if (load && !same_load(*load, *heaviest)) {
            light.push_back(&record);
        }
    }
    return light;
}

}  // namespace

void over_levels(const FigureRequest& request, const OpenRecords& records, Scorer& scorer) {
    for (int channel = 1; channel <= 2; ++channel) {
        std::vector<std::optional<analysis::ToneFit>> fits;
        std::vector<const OpenRecord*> used;
        for (const OpenRecord& opened : records) {
            auto fit = usable(opened, channel) ? fit_or_buried(opened, channel) : std::nullopt;
            if (fit) {
                fits.push_back(std::move(fit));
                used.push_back(&opened);
            }
        }
        if (used.empty()) {
            continue;
        }
        std::vector<analysis::DrivenTone> tones;
        for (std::size_t i = 0; i < used.size(); ++i) {
            tones.push_back({tone_of(*used[i], channel, *fits[i], used[i]->conditions),
                             VoltsRms{used[i]->of(channel).drive}});
        }
        const analysis::LinearitySettings settings{nearest_to_one_volt(fits), linearity,
                                                   linearity_source};
        Figure figure = analysis::level_linearity(tones, settings);
        Conditions conditions = used.front()->conditions;
        conditions.output_level.reset();
        const RatedFigure* rated = rating_for(request, conditions, scorer.context().sheet);
        scorer.add(std::move(figure), conditions, rated, first_unsound(records));
    }
}

void over_loads(const FigureRequest& request, const OpenRecords& loaded,
                const OpenRecords& unloaded, Scorer& scorer) {
    const MeasuredRecord* questionable = first_unsound(loaded);
    questionable = questionable != nullptr ? questionable : first_unsound(unloaded);
    for (int channel = 1; channel <= 2; ++channel) {
        for (const OpenRecord* light : lighter_of(loaded, unloaded, channel)) {
            const auto heavy =
                std::find_if(loaded.begin(), loaded.end(), [&](const OpenRecord& other) {
                    return &other != light && usable(other, channel) &&
                           same_drive(other.driven(), light->driven());
                });
            if (heavy == loaded.end() || !usable(*light, channel) || !heavy->of(channel).fit ||
                !light->of(channel).fit) {
                continue;
            }
            Conditions conditions_of_light = light->conditions;
            analysis::BenchShare share_of_light = light->of(channel).bench;
            if (light->driven().open) {
                conditions_of_light.load.reset();
                share_of_light.load.reset();
            }
            const analysis::ToneRecord light_tone{light->of(channel).waveform.view(),
                                                  *light->of(channel).fit, channel, share_of_light,
                                                  conditions_of_light};
            const auto heavy_tone =
                tone_of(*heavy, channel, *heavy->of(channel).fit, heavy->conditions);
            const analysis::LoadPair pair{heavy_tone, light_tone, short_drift, drift_source,
                                          Ohms{0.0}};
            const Figure impedance = analysis::output_impedance(pair);
            Conditions conditions = with_request(heavy->conditions, request);
            const RatedFigure* rated = rating_for(request, conditions, scorer.context().sheet);
            const Ohms nominal =
                rated != nullptr && rated->conditions.load ? *rated->conditions.load : usual_load;
            scorer.add(request.figure == FigureKind::damping_factor
                           ? analysis::damping_factor(impedance, nominal)
                           : impedance,
                       heavy->conditions, rated, questionable);
        }
    }
}

void over_volumes(const FigureRequest& request, const OpenRecords& records, Scorer& scorer) {
    std::optional<Figure> at_maximum;
    std::vector<analysis::VolumeMark> marks;
    const OpenRecord* any = nullptr;
    for (const OpenRecord& opened : records) {
        const auto left = fit_or_buried(opened, 1);
        const auto right = fit_or_buried(opened, 2);
        if (!left || !right || !usable(opened, 1) || !usable(opened, 2)) {
            continue;
        }
        any = &opened;
        Figure balance = analysis::channel_balance(tone_of(opened, 1, *left, opened.conditions),
                                                   tone_of(opened, 2, *right, opened.conditions));
        if (opened.driven().volume == "maximum") {
            at_maximum = std::move(balance);
        } else {
            marks.push_back({opened.driven().volume, std::move(balance)});
        }
    }
    if (any == nullptr) {
        return;
    }
    const Conditions conditions = with_request(any->conditions, request);
    const RatedFigure* rated = rating_for(request, conditions, scorer.context().sheet);
    Figure tracking = at_maximum ? analysis::volume_tracking(*at_maximum, marks)
                                 : unresolved(request.figure, 0, conditions,
                                              "no record at maximum: add it to for_each: volumes");
    add_linearity(tracking);
    scorer.add(std::move(tracking), any->conditions, rated, first_unsound(records));
}

void over_tone_controls(const FigureRequest& request, const OpenRecords& records, Scorer& scorer) {
    for (int channel = 1; channel <= 2; ++channel) {
        for (const OpenRecord& opened : records) {
            if (opened.driven().tone_controls == "flat" || !usable(opened, channel)) {
                continue;
            }
            const OpenRecord* flat = nullptr;
            for (const OpenRecord& other : records) {
                if (other.driven().tone_controls == "flat" &&
                    other.driven().nominal == opened.driven().nominal && usable(other, channel)) {
                    flat = &other;
                }
            }
            const Conditions conditions = with_request(opened.conditions, request);
            const RatedFigure* rated = rating_for(request, conditions, scorer.context().sheet);
            if (flat == nullptr || !flat->of(channel).fit || !opened.of(channel).fit) {
                continue;
            }
            // Without a rating 10 dB either way: what nearly every control of the kind is made for.
            const double reach = std::abs(request.boost.value_or(Gain{10.0}).decibels());
            const bool cuts = opened.driven().tone_controls.ends_with("minimum");
            const Gain wanted{cuts ? -reach : reach};
            const analysis::DrivenTone at_end{
                tone_of(opened, channel, *opened.of(channel).fit, conditions),
                VoltsRms{opened.of(channel).drive}};
            const analysis::DrivenTone at_flat{
                tone_of(*flat, channel, *flat->of(channel).fit, flat->conditions),
                VoltsRms{flat->of(channel).drive}};
            Figure error = analysis::tone_range_error(at_end, at_flat, wanted);
            add_linearity(error);
            scorer.add(std::move(error), opened.conditions, rated, opened.measured);
        }
    }
}

}  // namespace afterload::runner
