#include "analysis/standing.hpp"

#include "analysis/level.hpp"
#include "analysis/scale.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {

double uncertainty_ceiling(FigureKind kind) {
    using enum FigureKind;
    switch (kind) {
        case frequency:
            return 0.01;
        case output_voltage:
        case supply_rail:
        case mains_voltage:
            return 0.05;
        case output_power:
        case short_term_power:
        case distortion_limited_power:
        case temperature:
            return 0.10;
        case mains_power:
        case quiescent_current:
        case relay_delay:
        case input_sensitivity:
        case overload_level:
        case bandwidth_low:
        case bandwidth_high:
        case power_bandwidth:
            return 0.20;
        case polarity:
        case channel_identity:
            return 0.30;
        case thd:
        case thd_plus_noise:
        case harmonic:
        case modulation_distortion:
        case difference_frequency_distortion:
        case clipping_symmetry:
        case random_steps:
        case dc_offset:
        case noise_voltage:
        case hum_voltage:
        case output_impedance:
        case damping_factor:
            return 0.50;
        // Decibels.
        case channel_balance:
        case level_linearity:
            return 0.3;
        case gain:
        case frequency_response:
        case equalisation_error:
        case volume_tracking:
            return 0.5;
        case tone_range_error:
            return 1.0;
        case sinad:
        case signal_to_noise:
        case channel_separation:
            return 3.52;  // half of the limit, as a ratio
    }
    return 0.0;
}

namespace {

// A scored target is approached from below and never passed: this much under it is the bench's
// doing.
constexpr double target_window_db = 0.1;

int severity(VerdictKind kind) {
    switch (kind) {
        case VerdictKind::pass:
            return 0;
        case VerdictKind::conditional_pass:
            return 1;
        case VerdictKind::not_comparable:
            return 2;
        case VerdictKind::not_resolvable:
            return 3;
        case VerdictKind::conditional_fail:
            return 4;
        case VerdictKind::fail:
            return 5;
    }
    return 5;
}

bool aimed_at(const Figure& figure, double limit) {
    const std::optional<LevelTarget>& aim = figure.conditions.output_level;
    const bool level =
        figure.kind == FigureKind::output_power || figure.kind == FigureKind::output_voltage;
    if (!aim || !level) {
        return false;
    }
    const auto is_limit = [limit](double value) { return std::abs(value - limit) <= 0.01 * limit; };
    switch (aim->kind) {
        case LevelTarget::Kind::rated_fraction:
            return aim->value == 1.0;
        case LevelTarget::Kind::output_power:
            return figure.kind == FigureKind::output_power && is_limit(aim->value);
        case LevelTarget::Kind::output_volts:
            return figure.kind == FigureKind::output_voltage && is_limit(aim->value);
        case LevelTarget::Kind::drive_volts:
        case LevelTarget::Kind::drive_dbfs:
            return false;
    }
    return false;
}

VerdictKind called(const Standing& at) {
    if (at.rig > 0.0 && at.distance <= at.rig) {
        return VerdictKind::not_resolvable;
    }
    const bool clear = at.distance > at.uncertainty + at.rig && at.rig_stated.has_value();
    if (at.inside) {
        return clear ? VerdictKind::pass : VerdictKind::conditional_pass;
    }
    return clear ? VerdictKind::fail : VerdictKind::conditional_fail;
}

// What the rig may have raised counts where the truth may lie lower, and the other way round. For a
// figure that should be large, "added" is what made it look worse, thus smaller.
Standing standing(const Figure& figure, double value, bool upper, double limit) {
    const FigureKind kind = figure.kind;
    Standing at;
    at.upper = upper;
    at.limit = limit;
    double compared = limit;
    if (!upper && aimed_at(figure, limit)) {
        at.on_target = true;
        const Gain window{-target_window_db};
        compared = unit_of(kind) == Unit::watt
                       ? limit * power_ratio(window).in<PowerRatio>()
                       : limit * amplitude_ratio(window).in<AmplitudeRatio>();
    }
    at.inside = upper ? value <= compared : value >= compared;
    at.distance = std::abs(scored(kind, value) - scored(kind, compared));
    at.uncertainty = scored_change(kind, value, expanded(figure.budget));

    const bool truth_may_be_lower = upper != at.inside;
    const bool added_raises = better(kind) != Better::larger;
    at.rig_stated = truth_may_be_lower == added_raises ? figure.rig_added : figure.rig_cancelled;
    const double shift = at.rig_stated.value_or(0.0);
    const double truth = truth_may_be_lower ? value - shift : value + shift;
    at.rig = shift == 0.0 ? 0.0 : std::abs(scored(kind, truth) - scored(kind, value));
    at.kind = called(at);
    return at;
}

}  // namespace

Standing worse_side(const Figure& figure, double value, const Limit& limit) {
    std::optional<Standing> worst;
    const auto consider = [&](bool upper, const std::optional<double>& side) {
        if (!side) {
            return;
        }
        const Standing at = standing(figure, value, upper, *side);
        const bool worse = !worst || severity(at.kind) > severity(worst->kind) ||
                           (at.kind == worst->kind && at.distance < worst->distance);
        // Outside on one side is never excused by what the other side says.
        if (!worst || (worst->inside && !at.inside) || (worst->inside == at.inside && worse)) {
            worst = at;
        }
    };
    consider(true, limit.at_most);
    consider(false, limit.at_least);
    return worst.value_or(Standing{});
}

// A reading near nothing whose uncertainty is over half of its limit is a bound before it
// comes here: were the ceilings of such figures lower, a worse rig could pass by its bound what a
// better one could not call.
bool above_ceiling(const Figure& figure, double value, const Standing& at) {
    const bool gross = !at.inside && at.distance > 3.0 * (at.uncertainty + at.rig);
    if (gross) {
        return false;
    }
    const FigureKind kind = figure.kind;
    const double ceiling = uncertainty_ceiling(kind);
    if (falling(kind)) {
        const double share = unit_of(kind) == Unit::decibel
                                 ? amplitude_ratio(Gain{ceiling}).in<AmplitudeRatio>() - 1.0
                                 : ceiling;
        return at.uncertainty > share * std::max(scored(kind, at.limit), scored(kind, value));
    }
    const double reference =
        unit_of(kind) == Unit::decibel ? 1.0 : std::max(std::abs(at.limit), std::abs(value));
    return expanded(figure.budget) > ceiling * reference;
}

}  // namespace afterload::analysis
