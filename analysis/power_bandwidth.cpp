#include "analysis/power_bandwidth.hpp"

#include "analysis/rig_part.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace afterload::analysis {

namespace {

using By = PowerBandwidthSettings::By;

// A target is reached from below within 0.1 dB.
constexpr double target_reached = 0.97;
// Distortion that was not seen counts as this much of the limit: the logarithm of nothing is none.
constexpr double unseen = 1e-3;

// Half the rated power, as far as the search went: what stays of the way to it.
double nepers_to_target(const PowerBandwidthPoint& point, const PowerBandwidthSettings& settings) {
    const double ratio = point.power / (0.5 * settings.rated);
    const bool reached = ratio >= target_reached && ratio <= 1.0 / target_reached;
    return reached ? -0.5 * std::log(ratio) : 0.0;
}

// How far a point is on the good side, dB. `rig` is added to its distortion.
double margin_db(const PowerBandwidthPoint& point, const PowerBandwidthSettings& settings,
                 double rig = 0.0) {
    if (settings.by == By::power) {
        const double ratio = point.power / (0.5 * settings.rated);
        return gain_of(PowerRatio{std::max(ratio, unseen)}).decibels();
    }
    const double ratio = (point.thd + rig) / settings.thd;
    return -gain_of(AmplitudeRatio{std::max(ratio, unseen)}).decibels() -
           decibels_a_neper * point.level_slope * nepers_to_target(point, settings);
}

// Standard uncertainty of a margin, dB, line by line.
Budget margin_budget(const PowerBandwidthPoint& point, const PowerBandwidthSettings& settings,
                     const BenchShare& bench) {
    using Kind = BudgetLine::Kind;
    const bool by_power = settings.by == By::power;
    // Of the power in dB a level error is worth itself, of a distortion as much as its slope says.
    const double slope = by_power ? 1.0 : point.level_slope;
    const double a_neper = decibels_a_neper * slope;
    Budget budget;
    add_line(budget, Kind::noise, by_power ? "power at the points" : "distortion at the points", "",
             (by_power ? 0.5 : 1.0) * decibels_a_neper * point.u_relative);
    add_line(budget, Kind::systematic, bench.level_source, "level", a_neper * bench.level_u_k1);
    add_line(budget, Kind::systematic, bench.load_source, "load", 0.5 * a_neper * bench.load_u_k1);
    add_line(budget, Kind::bound,
             bench.load_source.empty() ? "" : bench.load_source + ", its own heat",
             "load, its own heat", 0.5 * a_neper * bench.load_heat_u_k1);
    add_line(budget, Kind::systematic, "flatness of the rig", "",
             slope * settings.flatness_u_k1_db);
    if (!by_power) {
        // The slope of a curve that bends is known to a factor of two.
        add_line(budget, Kind::bound, "step to half the rated power", "",
                 0.5 * a_neper * std::abs(nepers_to_target(point, settings)) / std::numbers::sqrt3);
    }
    return budget;
}

Figure margin_of(const std::vector<PowerBandwidthPoint>& sorted,
                 const PowerBandwidthSettings& settings, const BenchShare& bench, Hertz reference,
                 double rig = 0.0) {
    Figure margin;
    margin.conditions.reference_frequency = reference;
    Curve curve;
    for (const PowerBandwidthPoint& point : sorted) {
        curve.frequency_hz.push_back(point.frequency.in<Hertz>());
        curve.value.push_back(margin_db(point, settings, rig));
        curve.u_k1.push_back(combined(margin_budget(point, settings, bench)));
    }
    margin.curve = std::move(curve);
    return margin;
}

// The one of two neighbours of an edge whose margin is less certain: its budget serves for both.
const PowerBandwidthPoint& beside(const std::vector<PowerBandwidthPoint>& sorted,
                                  const Curve& curve, double edge_hertz) {
    const auto above = std::ranges::upper_bound(curve.frequency_hz, edge_hertz);
    const auto last = static_cast<std::ptrdiff_t>(sorted.size()) - 1;
    const auto high = std::clamp<std::ptrdiff_t>(above - curve.frequency_hz.begin(), 1, last);
    const auto index = static_cast<std::size_t>(high);
    return curve.u_k1[index] > curve.u_k1[index - 1] ? sorted[index] : sorted[index - 1];
}

std::string why_not(const std::vector<PowerBandwidthPoint>& points,
                    const PowerBandwidthSettings& settings) {
    if (points.empty()) {
        return "no frequency was tried";
    }
    if (!(settings.rated > Watts{0.0} && settings.thd > 0.0 && settings.reference > Hertz{0.0})) {
        return "a power bandwidth needs a rated power and a rated distortion";
    }
    for (const PowerBandwidthPoint& point : points) {
        if (!(point.frequency > Hertz{0.0})) {
            return "a point has no frequency";
        }
        const bool short_of_power = point.power < target_reached * 0.5 * settings.rated;
        if (settings.by == By::distortion && short_of_power && point.thd <= settings.thd) {
            return fmt::format(
                "half the rated power was not reached at {:.5g} Hz, {:.3g} W of "
                "{:.3g} W: drive more there",
                point.frequency.in<Hertz>(), point.power.in<Watts>(),
                0.5 * settings.rated.in<Watts>());
        }
    }
    return "";
}

double hertz_of(const Figure& edge) {
    return edge.value ? *edge.value : edge.bound->value;
}

// The rig's distortion adds to the unit's or hides some of it; either moves the edge. A bound is
// where the edge would be with all that may be hidden.
template <class EdgeWith>
void state_rig_distortion(Figure& figure, const RigPart& part, const EdgeWith& edge_with) {
    const double now = hertz_of(figure);
    if (part.added) {
        figure.rig_added = std::abs(hertz_of(edge_with(-*part.added)) - now);
    }
    if (part.cancelled) {
        const Figure with_all = edge_with(*part.cancelled);
        const double hidden = hertz_of(with_all);
        figure.rig_cancelled = std::abs(hidden - now);
        if (!figure.value) {
            const double reach = expanded(with_all.budget);
            const bool low = figure.bound->side == Bound::Side::at_most;
            figure.bound->value = std::max(0.0, hidden + (low ? reach : -reach));
        }
    }
}

}  // namespace

PowerBandwidthPoint point_at_half_power(const ToneRecord& tone, const HarmonicBand& band) {
    PowerBandwidthPoint point;
    point.frequency = tone.fit.fundamental.frequency;
    point.power = Watts{output_power(tone).value.value_or(0.0)};
    const auto thd = total_harmonic_distortion(tone.fit, band);
    if (!thd || !(thd->ratio.value > 0.0)) {
        return point;
    }
    point.thd = thd->ratio.value;
    point.u_relative = noise_of(thd->ratio) / point.thd;
    double power = 0.0;
    double weighted = 0.0;
    for (const HarmonicRow& row : harmonic_table(tone.fit, band)) {
        power += row.ratio * row.ratio;
        weighted += (row.order - 1) * row.ratio * row.ratio;
    }
    point.level_slope = power > 0.0 ? weighted / power : 0.0;
    return point;
}

PowerBandwidthPoint point_at_distortion(const ToneRecord& tone,
                                        const DistortionApproach& approach) {
    PowerBandwidthPoint point;
    point.frequency = tone.fit.fundamental.frequency;
    point.thd = approach.thd;
    const Figure figure = distortion_limited_power(tone, approach);
    if (!figure.value && !figure.bound) {
        return point;
    }
    const double watts = figure.value ? *figure.value : figure.bound->value;
    point.power = Watts{watts};
    // Volts and load are common to all points and are counted once, at the edge.
    const auto of_the_point = [](const BudgetLine& line) {
        return line.kind == BudgetLine::Kind::noise || line.source == step_to_the_limit;
    };
    double square = 0.0;
    for (const BudgetLine& line : figure.budget) {
        square += of_the_point(line) ? line.u_k1 * line.u_k1 : 0.0;
    }
    point.u_relative = watts > 0.0 ? std::sqrt(square) / watts : 0.0;
    return point;
}

Figure power_bandwidth(const std::vector<PowerBandwidthPoint>& points,
                       const PowerBandwidthSettings& settings, int channel, const BenchShare& bench,
                       Conditions conditions) {
    Figure figure;
    figure.kind = FigureKind::power_bandwidth;
    figure.channel = channel;
    figure.conditions = std::move(conditions);
    figure.conditions.thd = settings.thd;
    figure.conditions.output_level = LevelTarget{LevelTarget::Kind::rated_fraction, 0.5};
    if (std::string why = why_not(points, settings); !why.empty()) {
        return without_value(std::move(figure), std::move(why));
    }
    std::vector<PowerBandwidthPoint> sorted = points;
    std::ranges::stable_sort(sorted, {}, &PowerBandwidthPoint::frequency);
    const auto from_reference = [&settings](const PowerBandwidthPoint& point) {
        return std::abs(std::log(point.frequency / settings.reference));
    };
    const auto reference = std::ranges::min_element(sorted, {}, from_reference);
    if (margin_db(*reference, settings) < 0.0) {
        return without_value(std::move(figure),
                             fmt::format("half the rated power does not come with the rated "
                                         "distortion even at {:.5g} Hz",
                                         reference->frequency.in<Hertz>()));
    }

    // The margin is a response that has fallen where it passes through zero.
    const auto edge_of = [&settings](const Figure& margin) {
        return bandwidth(margin, settings.low, Gain{0.0});
    };
    const auto edge_with = [&](double rig) {
        return edge_of(margin_of(sorted, settings, bench, reference->frequency, rig));
    };
    const Figure margin = margin_of(sorted, settings, bench, reference->frequency);
    const Figure edge = edge_of(margin);
    figure.value = edge.value;
    figure.bound = edge.bound;
    if (edge.value) {
        const Budget decibels =
            margin_budget(beside(sorted, *margin.curve, *edge.value), settings, bench);
        for (const BudgetLine& line : edge.budget) {
            if (line.source != record_noise) {
                figure.budget.push_back(line);
                continue;
            }
            for (BudgetLine part : decibels) {
                part.u_k1 *= line.u_k1 / combined(decibels);
                figure.budget.push_back(std::move(part));
            }
        }
    }
    figure.conditions.reference_frequency = reference->frequency;
    if (settings.by == By::power) {
        const RigPart part = calibrated_away(bench);
        figure.rig_added = part.added;
        figure.rig_cancelled = part.cancelled;
        return figure;
    }
    state_rig_distortion(figure, of_distortion(bench), edge_with);
    return figure;
}

}  // namespace afterload::analysis
