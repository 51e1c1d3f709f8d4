#include "instruments/unit_parameters.hpp"

#include "instruments/noise_source.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::instruments {

namespace {

double ratio(double decibels) {
    return amplitude_ratio(Gain{decibels}).in<AmplitudeRatio>();
}

/// Draws one number of both channels: what they share, then what tells them apart. Spreads are cut
/// at two and a half sigma: beyond that a unit would not have left the shop that adjusted it.
class Spread {
public:
    explicit Spread(NoiseSource& drawn) : drawn_{drawn} {}

    /// value · (1 ± shared ± own), relative standard deviations.
    [[nodiscard]] std::array<double, 2> relative(double value, double shared, double own) {
        const double common = 1.0 + shared * one();
        return {value * common * (1.0 + own * one()), value * common * (1.0 + own * one())};
    }
    /// value times so many decibels.
    [[nodiscard]] std::array<double, 2> decibels(double value, double shared, double own) {
        const double common = shared * one();
        return {value * ratio(common + own * one()), value * ratio(common + own * one())};
    }
    [[nodiscard]] std::array<double, 2> added(double value, double shared, double own) {
        const double common = value + shared * one();
        return {common + own * one(), common + own * one()};
    }
    [[nodiscard]] double one() { return drawn_.normal_within(2.5); }

private:
    NoiseSource& drawn_;
};

/// Sag and ripple at `peak` output volts with both channels driven: rail needed for it.
double rail_needed(const SupplyParameters& supply, double peak, double ohms, double mains_hertz) {
    const double amperes = 2.0 * peak / (std::numbers::pi * ohms) + supply.idle_amperes;
    const double ripple = amperes / (2.0 * mains_hertz * supply.reservoir_farads);
    return peak + supply.lost_volts + supply.source_ohms * amperes + 0.5 * ripple;
}

void draw_channels(UnitParameters& unit, const Simulation& simulation, NoiseSource& drawn) {
    Spread spread{drawn};
    const double volts = unit.rated_peak_volts / 30.98;  // re the 60 W class
    const double amperes = unit.rated_peak_volts / unit.rated_ohms / 3.873;
    const auto put = [&unit](double ChannelParameters::*which, const std::array<double, 2>& pair) {
        unit.channels[0].*which = pair[0];
        unit.channels[1].*which = pair[1];
    };
    using C = ChannelParameters;
    put(&C::line_gain,
        spread.decibels(amplitude_ratio(simulation.line_gain).in<AmplitudeRatio>(), 0.15, 0.06));
    put(&C::coupling_hertz, spread.relative(3.4, 0.1, 0.03));
    put(&C::feedback_hertz, spread.relative(1.6, 0.1, 0.03));
    put(&C::volume_error_decibels, spread.added(0.0, 0.1, 0.2));
    put(&C::crosstalk, spread.decibels(ratio(-68.0), 2.0, 1.5));
    put(&C::phono_gain,
        spread.decibels(amplitude_ratio(simulation.phono_gain).in<AmplitudeRatio>(), 0.15, 0.08));
    put(&C::phono_bass_error, spread.relative(1.0, 0.015, 0.01));
    put(&C::phono_treble_error, spread.relative(1.0, 0.015, 0.01));
    put(&C::phono_noise, spread.decibels(0.4e-6, 1.0, 0.5));
    put(&C::bass_decibels, spread.added(10.0, 0.5, 0.3));
    put(&C::treble_decibels, spread.added(10.0, 0.5, 0.3));
    put(&C::bass_centre_decibels, spread.added(0.0, 0.1, 0.06));
    put(&C::treble_centre_decibels, spread.added(0.0, 0.1, 0.06));
    put(&C::second, spread.relative(1.3e-4, 0.15, 0.1));
    put(&C::third, spread.relative(1.3e-4, 0.15, 0.1));
    put(&C::emitter_volts, spread.relative(0.012, 0.1, 0.08));
    put(&C::warm_up_seconds, spread.relative(540.0, 0.15, 0.08));
    put(&C::top_hertz, spread.relative(120e3, 0.08, 0.03));
    put(&C::offset_volts, spread.added(0.0, 0.006, 0.005));
    put(&C::offset_cold_volts, spread.added(0.0, 0.012, 0.008));
    put(&C::output_ohms_a, spread.relative(0.06, 0.15, 0.08));
    put(&C::output_ohms_b, spread.relative(0.065, 0.15, 0.08));
    put(&C::noise_volts, spread.decibels(0.12e-3, 1.0, 0.7));
    put(&C::input_noise_volts,
        spread.decibels(0.275e-3 / amplitude_ratio(simulation.line_gain).in<AmplitudeRatio>(), 1.0,
                        0.7));
    put(&C::current_limit, spread.relative(2.6 * 3.873 * amperes, 0.05, 0.03));
    put(&C::sink_kelvin_per_watt, spread.relative(0.9, 0.07, 0.03));
    put(&C::idle_watts, spread.relative(5.0 * volts, 0.07, 0.05));

    // Rms re rated output, dB, of 1 … 6 times the mains frequency.
    constexpr std::array<double, hum_lines> lines{-103.0, -100.0, -109.0, -110.0, -114.0, -112.0};
    const double rated_rms = unit.rated_peak_volts / std::numbers::sqrt2;
    for (std::size_t k = 0; k < hum_lines; ++k) {
        const std::array<double, 2> pair = spread.decibels(rated_rms * ratio(lines[k]), 1.5, 1.5);
        for (std::size_t c = 0; c < 2; ++c) {
            unit.channels[c].hum_volts[k] = pair[c];
            unit.channels[c].hum_phase[k] = 2.0 * std::numbers::pi * drawn.uniform();
        }
    }
}

}  // namespace

UnitParameters healthy_unit(const Simulation& simulation) {
    NoiseSource drawn{simulation.unit_seed, 0x756E6974U};
    UnitParameters unit;
    unit.rated_ohms = simulation.load.in<Ohms>();
    unit.rated_peak_volts =
        std::sqrt(2.0 * simulation.power.in<Watts>() * simulation.load.in<Ohms>());
    unit.power_gain = unit.rated_peak_volts / std::numbers::sqrt2;
    draw_channels(unit, simulation, drawn);

    // The load takes its share of the output resistance: gain is stated at the terminals.
    for (ChannelParameters& channel : unit.channels) {
        channel.line_gain *= 1.0 + channel.output_ohms_a / unit.rated_ohms;
    }

    const double ohms = unit.rated_ohms / 8.0;
    unit.supply.source_ohms = 2.4 * ohms * (1.0 + 0.1 * drawn.normal_within(2.0));
    unit.supply.reservoir_farads = 0.010 / ohms * (1.0 + 0.1 * drawn.normal_within(2.0));
    unit.supply.idle_amperes = 0.09 / ohms * unit.rated_peak_volts / 30.98;
    unit.supply.tone_rail_volts = 18.0 * (1.0 + 0.01 * drawn.normal_within(2.0));

    // The rails are chosen for the headroom wanted, worst channel first.
    const double drawn_headroom = 0.25 + 0.25 * drawn.uniform();
    const double headroom = simulation.headroom ? simulation.headroom->decibels() : drawn_headroom;
    const double mains_hertz = simulation.mains_frequency.in<Hertz>();
    double needed = 0.0;
    for (const ChannelParameters& channel : unit.channels) {
        const double peak = unit.rated_peak_volts * ratio(headroom) *
                            (1.0 + channel.output_ohms_a / unit.rated_ohms);
        const double loop = unit.rated_ohms + channel.output_ohms_a;
        needed = std::max(needed, rail_needed(unit.supply, peak, loop, mains_hertz));
    }
    unit.supply.unloaded_volts = needed;
    if (!simulation.headroom) {
        unit.channels[0].positive_rail = 1.0 + 0.003 * drawn.uniform();
        unit.channels[0].negative_rail = 1.0 + 0.003 * drawn.uniform();
        unit.channels[1].positive_rail = 1.0 + 0.003 * drawn.uniform();
        unit.channels[1].negative_rail = 1.0 + 0.003 * drawn.uniform();
    }
    return unit;
}

double clipping_peak(const UnitParameters& unit, std::size_t channel, double mains_hertz) {
    const ChannelParameters& one = unit.channels[channel];
    const double rail = unit.supply.unloaded_volts * std::min(one.positive_rail, one.negative_rail);
    const double loop = unit.rated_ohms + one.output_ohms_a;
    // rail_needed() is linear in the peak.
    const double at_zero = rail_needed(unit.supply, 0.0, loop, mains_hertz);
    const double slope = rail_needed(unit.supply, 1.0, loop, mains_hertz) - at_zero;
    return (rail - at_zero) / slope / (1.0 + one.output_ohms_a / unit.rated_ohms);
}

}  // namespace afterload::instruments
