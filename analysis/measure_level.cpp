#include "analysis/measure.hpp"
#include "analysis/rig_part.hpp"
#include "analysis/tone_figure.hpp"

#include <cmath>
#include <utility>

namespace afterload::analysis {

namespace {

using Kind = BudgetLine::Kind;

VoltsRms fundamental_of(const ToneFit& fit) {
    return rms_of_sine(VoltsPeak{fit.fundamental.amplitude});
}

// Everything that a true-rms meter would see, DC aside.
VoltsRms total_of(const ToneFit& fit) {
    double square = fit.fundamental.amplitude * fit.fundamental.amplitude;
    for (const auto* lines : {&fit.harmonics, &fit.mains}) {
        for (const FittedLine& line : *lines) {
            square += line.amplitude * line.amplitude;
        }
    }
    return VoltsRms{std::sqrt(square / 2.0 + fit.residual_rms * fit.residual_rms)};
}

void say_bound(Figure& figure, double reading, double bound, Bound::Side side) {
    figure.value.reset();
    figure.bound = Bound{bound, side};
    figure.details.emplace_back("reading", reading);
}

void state_calibrated(Figure& figure, const BenchShare& bench) {
    const RigPart part = calibrated_away(bench);
    figure.rig_added = part.added;
    figure.rig_cancelled = part.cancelled;
}

const char* const no_tone_at_all =
    "nothing at all was recorded, not even noise: check that the channel is connected";

}  // namespace

Figure output_voltage(const ToneRecord& tone) {
    Figure figure = begin(FigureKind::output_voltage, tone);
    const double volts = fundamental_of(tone.fit).in<VoltsRms>();
    if (!(volts > 0.0)) {
        return without_value(std::move(figure), no_tone_at_all);
    }
    figure.value = volts;
    add_line(figure.budget, Kind::noise, record_noise, "", volts * relative_noise(tone.fit));
    add_line(figure.budget, Kind::systematic, tone.bench.level_source, "level",
             volts * tone.bench.level_u_k1);
    figure.details.emplace_back("total", total_of(tone.fit).in<VoltsRms>());
    state_calibrated(figure, tone.bench);
    if (buried(tone.fit)) {
        say_bound(figure, volts,
                  volts * largest_over_fitted(tone.fit) * (1.0 + 2.0 * tone.bench.level_u_k1),
                  Bound::Side::at_most);
    }
    return figure;
}

Figure output_power(const ToneRecord& tone) {
    Figure figure = begin(FigureKind::output_power, tone);
    const BenchShare& bench = tone.bench;
    if (!bench.load) {
        return without_value(std::move(figure),
                             "no load is known: state it in the bench file or with the capture");
    }
    const VoltsRms volts = fundamental_of(tone.fit);
    const double watts = dissipated(volts, *bench.load).in<Watts>();
    if (!(watts > 0.0)) {
        return without_value(std::move(figure), no_tone_at_all);
    }
    // P = V²/R: ∂P/∂V = 2P/V, ∂P/∂R = -P/R (GUM 5.1.3 example).
    figure.value = watts;
    figure.conditions.load = bench.load;
    add_line(figure.budget, Kind::noise, record_noise, "", 2.0 * watts * relative_noise(tone.fit));
    add_line(figure.budget, Kind::systematic, bench.level_source, "level",
             2.0 * watts * bench.level_u_k1);
    add_line(figure.budget, Kind::systematic, bench.load_source, "load", watts * bench.load_u_k1);
    add_line(figure.budget, Kind::bound,
             bench.load_source.empty() ? "" : bench.load_source + ", its own heat",
             "load, its own heat", watts * bench.load_heat_u_k1);
    figure.details.emplace_back("total", dissipated(total_of(tone.fit), *bench.load).in<Watts>());
    if (tone.nominal_mains && tone.conditions.mains_voltage &&
        *tone.conditions.mains_voltage > 0.0) {
        // Unregulated rails follow the mains, and clipping power their square. A remark, not a
        // figure.
        const double up = *tone.nominal_mains / *tone.conditions.mains_voltage;
        figure.details.emplace_back("power_at_nominal_mains", watts * up * up);
    }
    state_calibrated(figure, bench);
    if (buried(tone.fit)) {
        const double largest = largest_over_fitted(tone.fit);
        const double bench_u = std::hypot(2.0 * bench.level_u_k1, bench.load_u_k1);
        say_bound(figure, watts, watts * largest * largest * (1.0 + 2.0 * bench_u),
                  Bound::Side::at_most);
    }
    return figure;
}

Figure frequency(const ToneRecord& tone) {
    Figure figure = begin(FigureKind::frequency, tone);
    figure.value = tone.fit.fundamental.frequency.in<Hertz>();
    add_line(figure.budget, Kind::noise, record_noise, "", tone.fit.frequency_u_k1);
    state_calibrated(figure, tone.bench);
    return figure;
}

Figure gain(const ToneRecord& tone, VoltsRms drive) {
    Figure figure = begin(FigureKind::gain, tone);
    const VoltsRms volts = fundamental_of(tone.fit);
    if (!(drive > VoltsRms{0.0})) {
        return without_value(std::move(figure), "the channel was not driven");
    }
    if (!(volts > VoltsRms{0.0})) {
        return without_value(std::move(figure), no_tone_at_all);
    }
    const double decibels = gain_of(AmplitudeRatio{volts / drive}).decibels();
    figure.value = decibels;
    add_line(figure.budget, Kind::noise, record_noise, "",
             decibels_a_neper * relative_noise(tone.fit));
    add_line(figure.budget, Kind::systematic, tone.bench.level_source, "level",
             decibels_a_neper * tone.bench.level_u_k1);
    add_line(figure.budget, Kind::systematic, tone.bench.drive_source, "drive",
             decibels_a_neper * tone.bench.drive_u_k1);
    state_calibrated(figure, tone.bench);
    if (buried(tone.fit)) {
        const double bench_u = std::hypot(tone.bench.level_u_k1, tone.bench.drive_u_k1);
        const AmplitudeRatio largest{largest_over_fitted(tone.fit) * (1.0 + 2.0 * bench_u)};
        say_bound(figure, decibels, decibels + gain_of(largest).decibels(), Bound::Side::at_most);
    }
    return figure;
}

Figure channel_balance(const ToneRecord& left, const ToneRecord& right) {
    Figure figure = begin(FigureKind::channel_balance, left);
    figure.channel = 0;
    figure.pair = {left.channel, right.channel};
    const VoltsRms left_volts = fundamental_of(left.fit);
    const VoltsRms right_volts = fundamental_of(right.fit);
    const bool left_buried = buried(left.fit);
    const bool right_buried = buried(right.fit);
    if (left_buried && right_buried) {
        return without_value(std::move(figure),
                             "no tone stands out of the noise in either channel");
    }
    if (!(left_volts > VoltsRms{0.0}) || !(right_volts > VoltsRms{0.0})) {
        return without_value(std::move(figure), no_tone_at_all);
    }
    const double decibels = gain_of(AmplitudeRatio{left_volts / right_volts}).decibels();
    figure.value = decibels;
    add_line(figure.budget, Kind::noise, record_noise, "",
             decibels_a_neper * std::hypot(relative_noise(left.fit), relative_noise(right.fit)));
    // The level calibration is common to both; what sets them apart is not.
    add_line(figure.budget, Kind::systematic, left.bench.balance_source, "balance of the inputs",
             decibels_a_neper * left.bench.balance_u_k1);
    if (left.bench.present && right.bench.present) {
        state_calibrated(figure, left.bench);
    }
    if (left_buried) {
        const AmplitudeRatio largest{largest_over_fitted(left.fit)};
        say_bound(figure, decibels, decibels + gain_of(largest).decibels(), Bound::Side::at_most);
    } else if (right_buried) {
        const AmplitudeRatio largest{largest_over_fitted(right.fit)};
        say_bound(figure, decibels, decibels - gain_of(largest).decibels(), Bound::Side::at_least);
    }
    return figure;
}

}  // namespace afterload::analysis
