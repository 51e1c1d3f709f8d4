/// What is at the terminals beside the signal: noise, hum, ripple of the supply, random steps; and
/// a bad joint, which takes signal away. All of it is linear, so it is added at the card's rate.
#pragma once

#include "instruments/fault.hpp"
#include "instruments/hum_wave.hpp"
#include "instruments/noise_source.hpp"
#include "instruments/simulation.hpp"
#include "instruments/unit_parameters.hpp"

#include <array>
#include <cstdint>
#include <span>

namespace afterload::instruments {

/// What the residual depends on beside the specimen's numbers; changes with controls and supply.
struct ResidualState {
    std::array<double, 2> noise_sigma{};             ///< volts, of samples at the card's rate
    std::array<double, 2> terminal_share{1.0, 1.0};  ///< of the unit's own hum that arrives
    double ripple_volts = 0.0;                       ///< mean of both rails, peak to peak
    double rail_volts = 42.0;
};

class Residual {
public:
    explicit Residual(const Simulation& simulation);

    void set(const UnitParameters& unit, const RigParameters& rig, const ResidualState& state);
    /// Ripple and rail of the next block; the rest stays.
    void set_supply(double ripple_volts, double rail_volts);

    /// Adds to `frames` (interleaved terminal volts at the card's rate) while the mains run at
    /// `mains_hertz` of true time and the card at `true_rate`.
    void add_to(std::span<double> frames, double mains_hertz, double true_rate);

private:
    void add_steps(std::span<double> frames, std::size_t channel, double rate);
    void take_dropouts(std::span<double> frames, std::size_t channel, double rate);
    void open_lead(std::span<double> frames, std::size_t channel, double rate);

    NoiseSource noise_;
    NoiseSource events_;
    double rig_hum_volts_;
    std::array<std::array<double, 3>, 2> rig_hum_phase_{};
    std::array<HumWave, 2> hum_;
    std::array<ChannelParameters, 2> channels_;
    double rejection_ = 0.0;
    double modulation_ = 0.0;
    ResidualState state_;
    double phase_ = 0.0;  ///< of the mains, 0 … 1
    std::array<bool, 2> stepped_{};
    std::array<double, 2> next_step_{};  ///< seconds until the level changes
    std::array<bool, 2> open_{};
    std::array<double, 2> next_dropout_{};  ///< seconds until the joint opens or closes
    NoiseSource lead_events_;
    std::array<bool, 2> lead_open_{};
    std::array<double, 2> next_lead_{};  ///< seconds until the sense lead opens or closes
};

}  // namespace afterload::instruments
