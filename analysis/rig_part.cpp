#include "analysis/rig_part.hpp"

#include "analysis/scale.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {

RigPart calibrated_away(const BenchShare& bench) {
    return bench.present ? RigPart{0.0, 0.0} : RigPart{};
}

RigPart of_distortion(const BenchShare& bench) {
    if (bench.distortion.empty()) {
        return {};
    }
    AmplitudeRatio source;
    AmplitudeRatio input;
    for (const RigDistortion& found : bench.distortion) {
        source = std::max(source, found.source);
        input = std::max(input, found.input);
    }
    const double both = (source + input).in<AmplitudeRatio>();
    return {both, both};
}

RigPart of_noise(const BenchShare& bench, double volts, const NoiseSettings& settings) {
    if (settings.weighting == Weighting::itu_r_468) {
        // A rig is known flat and A-weighted; what it adds through this network nobody has found.
        return {std::nullopt, bench.present ? std::optional{0.0} : std::nullopt};
    }
    const bool weighted = settings.weighting == Weighting::a;
    const std::optional<VoltsRms>& own = weighted ? bench.own_noise_a : bench.own_noise;
    if (!own) {
        return {std::nullopt, bench.present ? std::optional{0.0} : std::nullopt};
    }
    const Band found = audio_band();
    const double wider =
        (settings.bandwidth.high - settings.bandwidth.low) / (found.high - found.low);
    const double noise = own->in<VoltsRms>() * (weighted ? 1.0 : std::sqrt(std::max(1.0, wider)));
    const double rest = std::sqrt(std::max(0.0, volts * volts - noise * noise));
    return {volts - rest, 0.0};
}

RigPart of_hum(const BenchShare& bench) {
    if (!bench.own_hum) {
        return {};
    }
    return {bench.own_hum->in<VoltsRms>(), bench.own_hum->in<VoltsRms>()};
}

RigPart of_leak(const BenchShare& bench) {
    if (!bench.own_separation) {
        return {};
    }
    const double leak = bench.own_separation->in<AmplitudeRatio>();
    return {leak, leak};
}

namespace {

// From a change on the scale to one in the figure's unit, both ways not small.
std::optional<double> in_figure_unit(FigureKind kind, double value, double on_scale,
                                     const std::optional<double>& change) {
    if (!change) {
        return std::nullopt;
    }
    return *change == 0.0 ? 0.0 : std::abs(unscored(kind, on_scale + *change) - value);
}

}  // namespace

void state_rig(Figure& figure, const RigPart& on_scale, const std::optional<Bound>& fit_bound) {
    const FigureKind kind = figure.kind;
    const double value = *figure.value;
    const double reading = scored(kind, value);
    const double uncertainty = scored_change(kind, value, expanded(figure.budget));
    const double added = on_scale.added.value_or(0.0);
    const double cancelled = on_scale.cancelled.value_or(0.0);

    figure.rig_cancelled = in_figure_unit(kind, value, reading, on_scale.cancelled);
    if (!fit_bound && reading > uncertainty + added) {
        const std::optional<double> less =
            on_scale.added ? std::optional{-*on_scale.added} : std::nullopt;
        figure.rig_added = in_figure_unit(kind, value, reading, less);
        return;
    }
    double reach = uncertainty;
    if (fit_bound) {
        // What the fit says of its own noise holds further than a linear uncertainty near nothing;
        // the bench's lines come on top.
        Budget others = figure.budget;
        std::erase_if(others,
                      [](const BudgetLine& line) { return line.kind == BudgetLine::Kind::noise; });
        const double of_fit = scored(kind, fit_bound->value) - reading;
        reach = std::hypot(of_fit, scored_change(kind, value, expanded(others)));
    }
    figure.bound = Bound{unscored(kind, reading + reach + cancelled),
                         falling(kind) ? Bound::Side::at_least : Bound::Side::at_most};
    // All of the reading may be the rig's; on a falling scale that has no number.
    if (on_scale.added && !falling(kind)) {
        figure.rig_added = std::min(added, reading);
    }
    figure.details.emplace_back("reading", value);
    figure.value.reset();
}

}  // namespace afterload::analysis
