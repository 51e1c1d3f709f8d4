/// The simulated amplifier in the time domain: two channels from the input sockets to the
/// terminals.
///
///     input -> [phono stage] -> coupling -> volume -> [filters, mono] -> [tone stage] -> pre-out
///     -> output stage -> relay
///
/// Everything that is not linear runs at eight, four or two times the card's rate (near 384 kHz);
/// the linear parts in front of it at twice the rate. Hum and noise are added by Residual at the
/// card's rate, where the record is made. Heat, bias and supply follow what the stage delivers.
#pragma once

#include "instruments/clipper.hpp"
#include "instruments/control_stage.hpp"
#include "instruments/half_band.hpp"
#include "instruments/heat.hpp"
#include "instruments/one_pole.hpp"
#include "instruments/phono_stage.hpp"
#include "instruments/power_stage.hpp"
#include "instruments/relay_contact.hpp"
#include "instruments/residual.hpp"
#include "instruments/simulation.hpp"
#include "instruments/supply.hpp"
#include "instruments/tone_stage.hpp"
#include "instruments/unit_controls.hpp"
#include "instruments/unit_parameters.hpp"

#include <array>
#include <span>
#include <vector>

namespace afterload::instruments {

/// Power averaged over the last stretch of audio.
struct MeanPower {
    std::array<double, 2> load_watts{};
    std::array<double, 2> sink_watts{};  ///< idle included
};

/// From the inner rate of the model down to twice the card's rate.
class InnerToFront {
public:
    explicit InnerToFront(double card_rate);
    /// `front` has one frame where `inner` has AmplifierModel::inner_frames() / 2; `inner` is used
    /// up.
    void process(std::span<double> inner, std::span<double> front);

private:
    std::vector<RateHalver> down_;
    std::array<std::vector<double>, 2> between_;
};

class AmplifierModel {
public:
    AmplifierModel(double card_rate, double mains_hertz);

    /// Takes over a specimen's numbers (faults applied) and how it stands; what the stages remember
    /// of the signal stays. `load_ohms` is infinity where no load is clipped on.
    void set(const UnitParameters& unit, const UnitControls& controls,
             const std::array<double, 2>& load_ohms, double source_ohms);
    /// Heat has moved bias and offset.
    void set_heat(const Heat& heat);
    void set_mains(double relative, double hertz);

    /// How many inner frames there are to one of the card.
    [[nodiscard]] std::size_t inner_frames() const { return std::size_t{2} << up_.size(); }

    /// `input`: open-circuit volts at the input at twice the card's rate, interleaved; used up.
    /// `terminals`: volts where the sense leads are at the inner rate, inner_frames() / 2 times as
    /// many. A few hundred frames at a time: rails and limits move once a call.
    void process(std::span<double> input, std::span<double> terminals);

    /// What noise, hum and ripple need to know.
    [[nodiscard]] ResidualState residual_state() const;
    /// Standard deviation of noise to add to the open-circuit input, samples at the card's rate.
    /// Zero where residual_state() has it already.
    [[nodiscard]] std::array<double, 2> input_noise_sigma() const;

    /// Mean since the last call.
    [[nodiscard]] MeanPower take_mean_power();
    /// Rail volts now: positive and negative main rail of a channel.
    [[nodiscard]] std::array<double, 2> rails(std::size_t channel) const;

private:
    void front(std::span<double> frames);
    void output_stage(std::span<double> frames);
    [[nodiscard]] ClipLimits limits() const;

    double card_rate_;
    double front_rate_;
    double inner_rate_;
    UnitParameters unit_;
    UnitControls controls_;
    std::array<double, 2> load_ohms_{};
    bool sensed_ = true;  ///< the selected speaker set is the one that is sensed
    std::array<double, 2> front_gain_{};
    std::array<double, 2> stage_ohms_{};            ///< what the output stage drives
    std::array<double, 2> common_share_{1.0, 1.0};  ///< left by what both speaker sets share
    std::array<double, 2> volume_gain_{};
    std::array<double, 2> crosstalk_{};
    std::array<double, 2> bleed_{};
    std::array<double, 2> last_front_{};
    double mains_ = 1.0;
    double mains_hertz_;
    HighPass coupling_;
    HighPass feedback_;
    std::vector<RateDoubler> up_;
    PhonoStage phono_;
    ControlStage switches_;
    ToneStage tone_;
    PowerStage power_;
    RelayContact relay_;
    Supply supply_;
    std::array<std::vector<double>, 2> between_;
    std::vector<double> pre_out_;
    double seconds_ = 0.0;
    MeanPower energy_;  ///< joules since the last take_mean_power()
};

}  // namespace afterload::instruments
