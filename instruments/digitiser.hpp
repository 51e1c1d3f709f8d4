/// From the unit's terminals to the card's integers: filters down, adds what is linear (hum, noise,
/// ripple), lets the card convert, and watches how hard it all was driven.
#pragma once

#include "instruments/amplifier_model.hpp"
#include "instruments/residual.hpp"
#include "instruments/sense_leads.hpp"
#include "instruments/simulation.hpp"
#include "instruments/sound_card_model.hpp"
#include "instruments/stretch.hpp"

#include <array>
#include <cstdint>
#include <vector>

namespace afterload::instruments {

/// Integers of the card, one vector a channel.
using Samples = std::vector<std::vector<std::int32_t>>;

class Digitiser {
public:
    /// `inner_frames`: frames of the amplifier model to one of the card.
    Digitiser(const Simulation& simulation, double true_rate, std::size_t inner_frames);

    void select(const SimulatedRange& range);
    void set(const UnitParameters& unit, const RigParameters& rig, const ResidualState& state) {
        residual_.set(unit, rig, state);
        leads_.set(unit, rig);
    }

    /// `stretch.inner` is used up. Appends to `out`; null: nobody records, states move all the
    /// same.
    void process(Stretch& stretch, Samples* out);

    [[nodiscard]] double worst_volts() const { return worst_volts_; }
    [[nodiscard]] double worst_range_use() const { return worst_range_use_; }
    void forget_worst();

private:
    double true_rate_;
    std::size_t inner_frames_;
    double safe_volts_;
    InnerToFront to_front_;
    SoundCardModel card_;
    Residual residual_;
    SenseLeads leads_;
    std::vector<double> front_;
    std::vector<double> sensed_;
    double worst_volts_ = 0.0;
    double worst_range_use_ = 0.0;
};

}  // namespace afterload::instruments
