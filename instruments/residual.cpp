#include "instruments/residual.hpp"

#include "instruments/supply.hpp"

#include <cmath>
#include <numbers>

namespace afterload::instruments {

namespace {

/// Lines of the rig's own hum: 1, 3 and 5 times the mains, re its total.
constexpr std::array<std::size_t, 3> rig_lines{1, 3, 5};
constexpr std::array<double, 3> rig_shares{0.87, 0.43, 0.25};

/// Waiting time of events that come `rate` times a second.
double waiting(NoiseSource& events, double rate) {
    return -std::log(1.0 - events.uniform()) / rate;
}

}  // namespace

Residual::Residual(const Simulation& simulation)
    : noise_{simulation.run_seed, 0x7265736CU},
      events_{simulation.run_seed, 0x65766E74U},
      rig_hum_volts_{simulation.rig_hum.in<VoltsRms>()},
      lead_events_{simulation.run_seed, 0x6C656164U} {
    NoiseSource drawn{simulation.rig_seed, 0x68756D20U};
    for (std::array<double, 3>& phases : rig_hum_phase_) {
        for (double& phase : phases) {
            phase = 2.0 * std::numbers::pi * drawn.uniform();
        }
    }
}

void Residual::set(const UnitParameters& unit, const RigParameters& rig,
                   const ResidualState& state) {
    state_ = state;
    rejection_ = unit.supply.ripple_rejection;
    modulation_ = unit.supply.ripple_modulation;
    for (std::size_t c = 0; c < 2; ++c) {
        const ChannelParameters& channel = unit.channels[c];
        hum_[c].clear();
        for (std::size_t k = 0; k < hum_lines; ++k) {
            hum_[c].add(k + 1, channel.hum_gain * channel.hum_volts[k] * state.terminal_share[c],
                        channel.hum_phase[k]);
        }
        for (std::size_t k = 0; k < rig_lines.size(); ++k) {
            hum_[c].add(rig_lines[k], rig.rig_hum_gain * rig_hum_volts_ * rig_shares[k],
                        rig_hum_phase_[c][k]);
        }
        channels_[c] = channel;
    }
}

void Residual::set_supply(double ripple_volts, double rail_volts) {
    state_.ripple_volts = ripple_volts;
    state_.rail_volts = rail_volts;
}

void Residual::add_to(std::span<double> frames, double mains_hertz, double true_rate) {
    const double turn = mains_hertz / true_rate;
    const double left_ripple = rejection_ * state_.ripple_volts * state_.terminal_share[0];
    const double right_ripple = rejection_ * state_.ripple_volts * state_.terminal_share[1];
    const double modulation = modulation_ * state_.ripple_volts / state_.rail_volts;
    double phase = phase_;
    for (std::size_t i = 0; i + 1 < frames.size(); i += 2) {
        const double twice = phase < 0.5 ? 2.0 * phase : 2.0 * phase - 1.0;
        const double ripple = ripple_shape(twice);
        const double gain = 1.0 + modulation * ripple;
        frames[i] = frames[i] * gain + hum_[0].at(phase) + left_ripple * ripple;
        frames[i + 1] = frames[i + 1] * gain + hum_[1].at(phase) + right_ripple * ripple;
        phase += turn;
        phase = phase >= 1.0 ? phase - 1.0 : phase;
    }
    phase_ = phase;
    for (std::size_t c = 0; c < 2; ++c) {
        if (channels_[c].step_volts > 0.0) {
            add_steps(frames, c, true_rate);
        }
        if (channels_[c].dropout_rate > 0.0) {
            take_dropouts(frames, c, true_rate);
        }
        noise_.add_to(frames.subspan(c), 2, state_.noise_sigma[c]);
        if (channels_[c].lead_rate > 0.0) {
            open_lead(frames, c, true_rate);
        }
    }
}

// What an open lead still brings is what it couples over.
void Residual::open_lead(std::span<double> frames, std::size_t channel, double rate) {
    constexpr double closes_per_second = 10.0;
    constexpr double coupled = 1e-3;
    for (std::size_t i = channel; i < frames.size(); i += 2) {
        next_lead_[channel] -= 1.0 / rate;
        if (next_lead_[channel] <= 0.0) {
            lead_open_[channel] = !lead_open_[channel];
            next_lead_[channel] =
                waiting(lead_events_,
                        lead_open_[channel] ? closes_per_second : channels_[channel].lead_rate);
        }
        if (lead_open_[channel]) {
            frames[i] *= coupled;
        }
    }
}

void Residual::add_steps(std::span<double> frames, std::size_t channel, double rate) {
    const double half = 0.5 * channels_[channel].step_volts * state_.terminal_share[channel];
    for (std::size_t i = channel; i < frames.size(); i += 2) {
        next_step_[channel] -= 1.0 / rate;
        if (next_step_[channel] <= 0.0) {
            stepped_[channel] = !stepped_[channel];
            next_step_[channel] = waiting(events_, channels_[channel].step_rate);
        }
        frames[i] += stepped_[channel] ? half : -half;
    }
}

void Residual::take_dropouts(std::span<double> frames, std::size_t channel, double rate) {
    constexpr double closes_per_second = 10.0;
    const double left = std::pow(10.0, -channels_[channel].dropout_decibels / 20.0);
    for (std::size_t i = channel; i < frames.size(); i += 2) {
        next_dropout_[channel] -= 1.0 / rate;
        if (next_dropout_[channel] <= 0.0) {
            open_[channel] = !open_[channel];
            next_dropout_[channel] = waiting(
                events_, open_[channel] ? closes_per_second : channels_[channel].dropout_rate);
        }
        if (open_[channel]) {
            frames[i] *= left;
        }
    }
}

}  // namespace afterload::instruments
