#include "analysis/distortion_limit.hpp"

#include "analysis/rig_part.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <cmath>
#include <numbers>
#include <optional>
#include <utility>

namespace afterload::analysis {

namespace {

using Kind = BudgetLine::Kind;

constexpr double longest_step = 1.0 / decibels_a_neper;

constexpr const char* distortion_source = "distortion at the limit";

// From the record to the limit, in nepers of level.
struct Step {
    double nepers = 0.0;
    double u_distortion = 0.0;
    double u_step = 0.0;
    bool reached = false;
    std::string why_not;  ///< set where there is no way back to the limit
};

Step step_to_limit(const DistortionApproach& approach) {
    Step step;
    const bool below = approach.thd <= approach.limit;
    const bool known = approach.level_slope > 0.0 && approach.thd > 0.0;
    const double nepers =
        known ? std::log(approach.limit / approach.thd) / approach.level_slope : 0.0;
    if (known && std::abs(nepers) <= longest_step) {
        step.nepers = nepers;
        step.u_distortion = approach.thd_u_k1 / approach.thd / approach.level_slope;
        // A slope from two steps of a curve that bends is known to a factor of two.
        step.u_step = 0.5 * std::abs(nepers) / std::numbers::sqrt3;
        step.reached = true;
    } else if (!below) {
        step.why_not = fmt::format(
            "the record's distortion, {:.3g} %, is above the limit of {:.3g} % and no step of "
            "1 dB leads back: take a record at a lower level",
            100.0 * approach.thd, 100.0 * approach.limit);
    }
    return step;
}

std::optional<std::string> unusable(const DistortionApproach& approach) {
    if (!(approach.limit > 0.0) || !(approach.thd >= 0.0) || !std::isfinite(approach.thd)) {
        return "a distortion limit above zero and a reading are needed";
    }
    return std::nullopt;
}

// `order` is 2 for a power and 1 for a voltage.
Figure at_limit(Figure figure, double order, const Step& step) {
    const double up = std::exp(order * step.nepers);
    figure.value = *figure.value * up;
    for (BudgetLine& line : figure.budget) {
        line.u_k1 *= up;
    }
    for (auto& [name, number] : figure.details) {
        number *= up;
    }
    add_line(figure.budget, Kind::noise, distortion_source, "",
             order * *figure.value * step.u_distortion);
    add_line(figure.budget, Kind::bound, step_to_the_limit, "",
             order * *figure.value * step.u_step);
    if (!step.reached) {
        figure.details.emplace_back("reading", *figure.value);
        figure.bound = Bound{*figure.value - expanded(figure.budget), Bound::Side::at_least};
        figure.value.reset();
    }
    return figure;
}

}  // namespace

Figure distortion_limited_power(const ToneRecord& tone, const DistortionApproach& approach) {
    Figure figure = output_power(tone);
    figure.kind = FigureKind::distortion_limited_power;
    figure.conditions.thd = approach.limit;
    if (!figure.value) {
        figure.bound.reset();
        return figure.unresolved.empty()
                   ? without_value(std::move(figure), "no tone stands out of the noise: drive more")
                   : figure;
    }
    if (const auto why = unusable(approach)) {
        figure.value.reset();
        return without_value(std::move(figure), *why);
    }
    const Step step = step_to_limit(approach);
    if (!step.why_not.empty()) {
        figure.value.reset();
        return without_value(std::move(figure), step.why_not);
    }
    return at_limit(std::move(figure), 2.0, step);
}

Figure overload_level(const ToneRecord& tone, VoltsRms drive, const DistortionApproach& approach) {
    Figure figure = begin(FigureKind::overload_level, tone);
    figure.conditions.thd = approach.limit;
    if (!(drive > VoltsRms{0.0})) {
        return without_value(std::move(figure), "the channel was not driven");
    }
    if (buried(tone.fit)) {
        return without_value(std::move(figure), "no tone stands out of the noise: drive more");
    }
    if (const auto why = unusable(approach)) {
        return without_value(std::move(figure), *why);
    }
    const Step step = step_to_limit(approach);
    if (!step.why_not.empty()) {
        return without_value(std::move(figure), step.why_not);
    }
    const double volts = drive.in<VoltsRms>();
    figure.value = volts;
    add_line(figure.budget, Kind::systematic, tone.bench.drive_source, "drive",
             volts * tone.bench.drive_u_k1);
    const RigPart part = calibrated_away(tone.bench);
    figure.rig_added = part.added;
    figure.rig_cancelled = part.cancelled;
    return at_limit(std::move(figure), 1.0, step);
}

}  // namespace afterload::analysis
