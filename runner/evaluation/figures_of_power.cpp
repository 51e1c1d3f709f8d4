#include "analysis/clipping.hpp"
#include "analysis/distortion_limit.hpp"
#include "analysis/harmonic.hpp"
#include "analysis/input_sensitivity.hpp"
#include "analysis/level_ramp.hpp"
#include "analysis/power_bandwidth.hpp"
#include "runner/evaluation/driven_stimulus.hpp"
#include "runner/evaluation/figure_families.hpp"
#include "runner/evaluation/measured_conditions.hpp"
#include "sequences/review.hpp"

namespace afterload::runner {
namespace {

constexpr double usual_limit = 0.01;  // a power without its distortion: 1 %, common practice

std::optional<sequences::RatedPower> power_rating(const Conditions& conditions,
                                                  const RatingSheet& sheet) {
    const auto rated = sequences::rated_power(sheet, conditions.load.value_or(usual_load),
                                              conditions.channels_driven.value_or(Channels::both));
    return rated ? std::optional{*rated} : std::nullopt;
}

/// The same with `rated` and its fractions as the watts they are: a sheet may state either.
Conditions in_watts(Conditions conditions, const RatingSheet& sheet) {
    if (conditions.output_level) {
        const auto watts =
            watts_of(*conditions.output_level, sheet, conditions.load.value_or(usual_load),
                     conditions.channels_driven.value_or(Channels::both));
        if (watts) {
            conditions.output_level =
                LevelTarget{LevelTarget::Kind::output_power, watts->in<Watts>()};
        }
    }
    return conditions;
}

/// What the search that found this level knows of it.
analysis::DistortionApproach approach_of(const OpenRecord& opened, const ChannelOfRecord& own) {
    analysis::DistortionApproach approach;
    approach.limit = opened.driven().distortion_limit.value_or(usual_limit);
    approach.level_slope = opened.driven().distortion_slope;
    const auto thd = analysis::total_harmonic_distortion(
        *own.fit, {20, analysis::default_upper_edge(own.waveform.rate)});
    if (thd) {
        approach.thd = thd->ratio.value;
        approach.thd_u_k1 = thd->ratio.u_k1;
    }
    return approach;
}

Figure sensitivity(const sequences::FigureRequest& request, const RatedFigure* rated,
                   const analysis::ToneRecord& tone, VoltsRms drive,
                   const EvaluationContext& context) {
    const auto level = rated != nullptr && rated->conditions.output_level
                           ? rated->conditions.output_level
                           : tone.conditions.output_level;
    const Ohms load = tone.conditions.load.value_or(usual_load);
    if (level && level->kind == LevelTarget::Kind::output_volts) {
        return analysis::input_sensitivity(tone, drive, VoltsRms{level->value});
    }
    const auto watts = level ? watts_of(*level, context.sheet, load,
                                        tone.conditions.channels_driven.value_or(Channels::both))
                             : std::nullopt;
    if (!watts) {
        return unresolved(request.figure, tone.channel, tone.conditions,
                          "the rating states no output for this load: add output_level to it");
    }
    return analysis::input_sensitivity(tone, drive, *watts);
}

Figure power_figure(const sequences::FigureRequest& request, const RatedFigure* rated,
                    const OpenRecord& opened, int channel, const Conditions& conditions,
                    const EvaluationContext& context) {
    const ChannelOfRecord& own = opened.of(channel);
    if (request.figure == FigureKind::short_term_power) {
        analysis::RampSettings ramp;
        ramp.frequency = opened.driven().nominal;
        ramp.rise = rise_of_tone;
        ramp.length = opened.driven().period;
        ramp.thd = conditions.thd.value_or(usual_limit);
        return analysis::short_term_power(own.waveform, channel, own.bench, ramp, conditions);
    }
    if (!own.fit) {
        return unresolved(request.figure, channel, conditions, "no output: " + own.failure);
    }
    analysis::ToneRecord tone{own.waveform.view(), *own.fit, channel, own.bench, conditions};
    if (context.sheet.unit) {
        tone.nominal_mains = context.sheet.unit->mains_voltage;
    }
    switch (request.figure) {
        case FigureKind::distortion_limited_power:
            return analysis::distortion_limited_power(tone, approach_of(opened, own));
        case FigureKind::overload_level:
            return analysis::overload_level(tone, VoltsRms{own.drive}, approach_of(opened, own));
        case FigureKind::input_sensitivity:
            return sensitivity(request, rated, tone, VoltsRms{own.drive}, context);
        default:
            return analysis::clipping_symmetry(tone);
    }
}

}  // namespace

void of_power(const sequences::FigureRequest& request, const OpenRecords& records, Scorer& scorer) {
    const EvaluationContext& context = scorer.context();
    for (const OpenRecord& opened : records) {
        for (int channel = 1; channel <= 2; ++channel) {
            if (opened.of(channel).drive <= 0.0) {
                continue;
            }
            Conditions conditions = with_request(opened.conditions, request);
            if (request.figure != FigureKind::input_sensitivity &&
                request.figure != FigureKind::clipping_symmetry) {
                const auto power = power_rating(conditions, context.sheet);
                conditions.thd = request.thd ? request.thd
                                 : opened.driven().distortion_limit
                                     ? opened.driven().distortion_limit
                                 : power ? power->thd
                                         : std::nullopt;
            }
            const RatedFigure* rated = rating_for(request, conditions, context.sheet);
            if (rated == nullptr) {
                rated = rating_for(request, in_watts(conditions, context.sheet), context.sheet);
            }
            scorer.add(power_figure(request, rated, opened, channel, conditions, context),
                       opened.conditions, rated, opened.measured);
        }
    }
}

namespace {

/// What a record says of one frequency: the power reached and its distortion.
analysis::PowerBandwidthPoint bandwidth_point(const OpenRecord& opened, int channel) {
    const ChannelOfRecord& own = opened.of(channel);
    analysis::BenchShare bench = own.bench;
    bench.load = bench.load.value_or(usual_load);
    const analysis::ToneRecord tone{own.waveform.view(), *own.fit, channel, bench, {}};
    if (opened.driven().distortion_limit) {
        return analysis::point_at_distortion(tone, approach_of(opened, own));
    }
    return analysis::point_at_half_power(tone,
                                         {20, analysis::default_upper_edge(own.waveform.rate)});
}

/// A rating that says "at most" is that of the lower edge, one that says "at least" of the upper.
const RatedFigure* power_bandwidth_rating(const sequences::FigureRequest& request,
                                          const Conditions& conditions, bool low,
                                          const RatingSheet& sheet) {
    RatingSheet side;
    for (const RatedFigure& rated : sheet.figures) {
        if (rated.figure == FigureKind::power_bandwidth && rated.limit.at_most.has_value() == low) {
            side.figures.push_back(rated);
        }
    }
    const RatedFigure* found = rating_for(request, conditions, side);
    if (found == nullptr) {
        return nullptr;
    }
    for (const RatedFigure& rated : sheet.figures) {
        if (rated.id == found->id) {
            return &rated;
        }
    }
    return nullptr;
}

}  // namespace

void over_power_bandwidth(const sequences::FigureRequest& request, const OpenRecords& records,
                          Scorer& scorer) {
    const EvaluationContext& context = scorer.context();
    for (int channel = 1; channel <= 2; ++channel) {
        std::vector<analysis::PowerBandwidthPoint> points;
        const OpenRecord* any = nullptr;
        const MeasuredRecord* unsound = nullptr;
        for (const OpenRecord& opened : records) {
            if (opened.of(channel).drive <= 0.0 || !opened.of(channel).fit) {
                continue;
            }
            any = &opened;
            unsound = opened.measured->stored.sound ? unsound : opened.measured;
            points.push_back(bandwidth_point(opened, channel));
        }
        if (any == nullptr) {
            continue;
        }
        Conditions conditions = with_request(any->conditions, request);
        conditions.frequency.reset();
        const auto power = power_rating(conditions, context.sheet);
        analysis::PowerBandwidthSettings settings;
        settings.by = any->driven().distortion_limit
                          ? analysis::PowerBandwidthSettings::By::power
                          : analysis::PowerBandwidthSettings::By::distortion;
        settings.flatness_u_k1_db = context.bench.flatness_u_k1_db;
        settings.thd = request.thd ? *request.thd : power && power->thd ? *power->thd : usual_limit;
        for (const bool low : {true, false}) {
            settings.low = low;
            Conditions edge = conditions;
            edge.thd = settings.thd;
            const RatedFigure* rated = power_bandwidth_rating(request, edge, low, context.sheet);
            if (!power) {
                scorer.add(unresolved(request.figure, channel, edge,
                                      "no power rating fits this load and these channels"),
                           edge, rated, unsound);
                continue;
            }
            settings.rated = power->power;
            scorer.add(
                analysis::power_bandwidth(points, settings, channel, any->of(channel).bench, edge),
                edge, rated, unsound);
        }
    }
}

}  // namespace afterload::runner
