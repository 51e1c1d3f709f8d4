#include "analysis/power_bandwidth.hpp"

#include "analysis/rig_part.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace afterload::analysis {

namespace {

using By = PowerBandwidthSettings::By;

// A target is reached from below within 0.1 dB.
constexpr double target_reached = 0.97;
// Distortion that was not seen counts as this much of the limit: the logarithm of nothing is none.
constexpr double unseen = 1e-3;

// How far a point is on the good side, dB.
double margin_db(const PowerBandwidthPoint& point, const PowerBandwidthSettings& settings) {
    if (settings.by == By::power) {
        const double ratio = point.power / (0.5 * settings.rated);
        return gain_of(PowerRatio{std::max(ratio, unseen)}).decibels();
    }
    return -gain_of(AmplitudeRatio{std::max(point.thd / settings.thd, unseen)}).decibels();
}

double margin_u_db(const PowerBandwidthPoint& point, const PowerBandwidthSettings& settings) {
    return (settings.by == By::power ? 0.5 : 1.0) * decibels_a_neper * point.u_relative;
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

}  // namespace

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
    Figure margin;
    margin.channel = channel;
    margin.conditions = figure.conditions;
    margin.conditions.reference_frequency = reference->frequency;
    Curve curve;
    for (const PowerBandwidthPoint& point : sorted) {
        curve.frequency_hz.push_back(point.frequency.in<Hertz>());
        curve.value.push_back(margin_db(point, settings));
        curve.u_k1.push_back(margin_u_db(point, settings));
    }
    margin.curve = std::move(curve);
    Figure edge = bandwidth(margin, settings.low, Gain{0.0});
    figure.value = edge.value;
    figure.bound = edge.bound;
    figure.budget = std::move(edge.budget);
    for (BudgetLine& line : figure.budget) {
        if (line.source == record_noise) {
            line.source =
                settings.by == By::power ? "power at the points" : "distortion at the points";
        }
    }
    figure.conditions.reference_frequency = reference->frequency;
    // What the rig adds to a distortion is in the points' uncertainty.
    const RigPart part = calibrated_away(bench);
    figure.rig_added = part.added;
    figure.rig_cancelled = part.cancelled;
    return figure;
}

}  // namespace afterload::analysis
