#include "instruments/fault.hpp"

#include <algorithm>
#include <stdexcept>
#include <utility>

namespace afterload::instruments {

namespace {

using C = ChannelParameters;
using S = SupplyParameters;
using R = RigParameters;
constexpr auto times = FaultEffect::How::times;
constexpr auto plus = FaultEffect::How::plus;
constexpr auto set = FaultEffect::How::set;

const std::vector<FaultKind>& kinds() {
    // clang-format off
    static const std::vector<FaultKind> table{
        // Output stage and bias.
        {"starved_bias", "quiescent current too low: trimmer, or the sensor transistor",
         {{&C::emitter_volts, set, {0.003, 0.0008, 0.0002}}}},
        {"overbias", "quiescent current too high, and rising with heat",
         {{&C::emitter_volts, times, {1.6, 3.0, 5.0}}, {&C::bias_tracking, plus, {0.002, 0.008, 0.02}},
          {&C::idle_watts, times, {1.4, 2.5, 4.0}}}},
        {"poor_thermal_tracking", "the bias sensor has come off the heat-sink",
         {{&C::bias_tracking, plus, {0.01, 0.03, 0.06}}}},
        {"bias_runaway", "bias that heats the stage, which raises the bias",
         {{&C::bias_tracking, plus, {0.05, 0.2, 0.4}}, {&C::idle_follows_bias, set, {1.0, 1.0, 1.0}}}},
        {"slow_device", "output or driver device slower than the original",
         {{&C::slew_volts_per_second, set, {12e6, 6e6, 3e6}}}},
        {"early_limiter", "protective limiter acts at too low a current",
         {{&C::current_limit, times, {0.44, 0.36, 0.25}}}},
        // Supplies.
        {"weak_main_rail", "one main rail low: capacitor, bridge leg, fuse clip",
         {{&C::positive_rail, times, {0.96, 0.9, 0.75}}}},
        {"sagging_rails", "both main rails sag under load: reservoir capacitors, rectifier, transformer",
         {{&S::source_ohms, times, {1.3, 2.0, 4.0}}, {&S::reservoir_farads, times, {0.7, 0.35, 0.1}}}},
        {"dried_reservoir", "reservoir capacitors have lost their capacitance",
         {{&S::reservoir_farads, times, {0.6, 0.3, 0.08}}}},
        {"low_tone_supply", "regulated supply of tone and phono stage low",
         {{&S::tone_rail_volts, times, {0.47, 0.4167, 0.22}}}},
        // Contacts and controls.
        {"resistive_relay", "contacts of the relay of speaker set A burnt",
         {{&C::contact_ohms, plus, {0.1, 0.5, 2.0}}, {&C::contact_cubic, set, {5e-4, 1e-3, 2e-3}}}},
        {"contact_film", "film on the contacts of the relay of speaker set A",
         {{&C::film_ohms, plus, {0.5, 5.0, 15.0}}, {&C::film_volts, set, {0.05, 0.2, 0.5}}}},
        {"volume_gang_error", "the two halves of the volume control differ",
         {{&C::volume_error_decibels, plus, {0.7, 1.5, 3.0}}}},
        {"mono_bleed", "mode switch leaks one channel into the other",
         {{&C::bleed, plus, {0.005, 0.03, 0.25}}}},
        {"tone_off_centre", "tone control cracked or off its centre",
         {{&C::bass_centre_decibels, plus, {0.7, 2.0, 4.0}},
          {&C::treble_centre_decibels, plus, {-0.7, -2.0, -4.0}}}},
        // Capacitors, resistors, joints, noisy parts.
        {"dried_coupling_capacitor", "series coupling capacitor has lost its capacitance",
         {{&C::coupling_hertz, times, {2.0, 5.0, 33.0}}}},
        {"dried_feedback_capacitor", "feedback-leg capacitor has lost its capacitance",
         {{&C::feedback_hertz, times, {4.0, 12.0, 60.0}}}},
        {"gain_error", "a resistor that sets the gain has drifted",
         {{&C::line_gain, times, {0.955, 0.89, 0.7}}}},
        {"dead_channel", "no signal: open joint, relay, jumper",
         {{&C::output_gain, times, {0.05, 0.001, 0.0}}}},
        {"bad_joint", "a cracked joint opens for moments",
         {{&C::dropout_decibels, plus, {0.2, 2.0, 20.0}}, {&C::dropout_rate, plus, {0.2, 0.5, 1.0}}}},
        {"offset", "input pair mismatched, or a coupling capacitor leaks",
         {{&C::offset_volts, plus, {0.06, 0.15, 1.5}}, {&C::offset_cold_volts, plus, {0.06, 0.15, 1.5}}}},
        {"wandering_offset", "offset that moves with heat",
         {{&C::offset_per_kelvin, plus, {0.002, 0.006, 0.03}}}},
        {"noisy_stage", "hiss from a transistor or resistor of the output stage",
         {{&C::noise_volts, times, {3.0, 8.0, 30.0}}}},
        {"noisy_input_stage", "hiss from a part before the volume control",
         {{&C::input_noise_volts, times, {3.0, 8.0, 30.0}}}},
        {"random_steps", "a failing transistor: two-level steps in the noise",
         {{&C::step_volts, plus, {0.0005, 0.003, 0.02}}, {&C::step_rate, plus, {1.0, 4.0, 20.0}}}},
        {"thermal_cut_out", "the unit's own thermal switch opens; with a temperature, above it",
         {{&C::output_gain, set, {0.0, 0.0, 0.0}}}},
        // Hum, wiring, phono.
        {"raised_hum", "hum of the mains family: ground, lead dress, shield",
         {{&C::hum_gain, times, {4.0, 20.0, 200.0}}}},
        {"capacitive_crosstalk", "lead dress or shield: crosstalk that rises with frequency",
         {{&C::crosstalk, times, {3.0, 8.0, 40.0}}}},
        {"drifted_equalisation", "a part of the phono equalisation has drifted",
         {{&C::phono_bass_error, times, {1.1, 1.25, 1.6}}, {&C::phono_treble_error, times, {0.93, 0.8, 0.6}}}},
        {"noisy_phono_stage", "hiss from the first transistor of the phono stage",
         {{&C::phono_noise, times, {3.0, 8.0, 30.0}}}},
        // Not the unit: the rig.
        {"lost_frames", "the rig: the card loses frames in one record and does not say so",
         {{&R::lost_frames, plus, {1.0, 7.0, 480.0}}}},
        {"ground_loop", "the rig: hum through the leads",
         {{&R::rig_hum_gain, times, {5.0, 50.0, 500.0}}}},
        {"open_lead", "the rig: a sense lead opens for moments",
         {{&C::lead_rate, plus, {0.01, 0.05, 0.5}}}},
        {"turned_lead", "the rig: a sense lead is the wrong way about",
         {{&C::lead_gain, times, {-1.0, -1.0, -1.0}}}},
        {"lead_off", "the rig: a sense lead is off",
         {{&C::lead_gain, times, {1e-3, 1e-4, 0.0}}}},
        {"load_off", "the rig: a dummy load is not connected, or its relay does not close",
         {{&C::load_off, plus, {1.0, 1.0, 1.0}}}},
        {"broken_ground", "the rig: the ground of a divider is broken: part of the level, and hum",
         {{&C::lead_gain, times, {0.8, 0.45, 0.2}}, {&R::rig_hum_gain, times, {10.0, 50.0, 200.0}}}},
        {"swapped_leads", "the rig: the sense leads are on each other's channel",
         {{&R::leads_swapped, plus, {1.0, 1.0, 1.0}}}},
        {"joined_leads", "the rig: both inputs hear both channels, or the card mixes to mono",
         {{&R::leads_joined, plus, {0.2, 0.5, 0.5}}}},
        {"riding_gain", "the rig: the card sets its gain by itself",
         {{&R::gain_riding, plus, {0.01, 0.1, 0.5}}}},
        {"late_capture", "the rig: the card wakes late, its first record begins with silence",
         {{&R::late_seconds, plus, {0.05, 0.3, 1.0}}}},
        {"lost_card", "the rig: the card's capture is gone; gross: its playing too",
         {{&R::card_lost, plus, {1.0, 1.0, 2.0}}}},
        {"frozen_playback", "the rig: the card repeats its last buffer until it is told to play anew",
         {{&R::frozen_frames, plus, {256.0, 1000.0, 4096.0}}}},
        {"mains_sag", "the room: the mains voltage has fallen",
         {{&R::mains_factor, times, {0.95, 0.88, 0.7}}}},
        {"dead_sensor", "the rig: the first sensor of the heat-sink answers a fault code",
         {{&R::sensor_dead, plus, {1.0, 1.0, 1.0}}}},
        {"frozen_sensor", "the rig: the first sensor of the heat-sink stands still",
         {{&R::sensor_frozen, plus, {1.0, 1.0, 1.0}}}},
        {"disagreeing_sensor", "the rig: the first sensor of the heat-sink reads low, as one that has come off",
         {{&R::sensor_kelvin, plus, {-12.0, -18.0, -30.0}}}},
    };
    // clang-format on
    return table;
}

void change(double& number, FaultEffect::How how, double by) {
    switch (how) {
        case FaultEffect::How::times:
            number *= by;
            return;
        case FaultEffect::How::plus:
            number += by;
            return;
        case FaultEffect::How::set:
            number = by;
            return;
    }
}

}  // namespace

std::span<const FaultKind> fault_kinds() {
    return kinds();
}

const FaultKind* find_fault(std::string_view name) {
    const std::vector<FaultKind>& all = kinds();
    const auto found = std::find_if(all.begin(), all.end(),
                                    [name](const FaultKind& kind) { return kind.name == name; });
    return found == all.end() ? nullptr : &*found;
}

double at_severity(const std::array<double, 3>& at, double severity) {
    return severity < 0.5 ? at[0] + (at[1] - at[0]) * (severity / 0.5)
                          : at[1] + (at[2] - at[1]) * ((severity - 0.5) / 0.5);
}

void apply(const SimulatedFault& fault, UnitParameters& unit, RigParameters& rig) {
    const FaultKind* kind = find_fault(fault.name);
    if (kind == nullptr) {
        throw std::invalid_argument("simulated unit: there is no fault called " + fault.name);
    }
    for (const FaultEffect& effect : kind->effects) {
        const double by = at_severity(effect.at, fault.severity);
        if (const auto* of_channel = std::get_if<double C::*>(&effect.number)) {
            if (fault.channel != Channels::right) {
                change(unit.channels[0].**of_channel, effect.how, by);
            }
            if (fault.channel != Channels::left) {
                change(unit.channels[1].**of_channel, effect.how, by);
            }
        } else if (const auto* of_supply = std::get_if<double S::*>(&effect.number)) {
            change(unit.supply.**of_supply, effect.how, by);
        } else if (const auto* of_rig = std::get_if<double R::*>(&effect.number)) {
            change(rig.**of_rig, effect.how, by);
        }
    }
}

FaultSchedule::FaultSchedule(std::vector<SimulatedFault> faults)
    : faults_{std::move(faults)}, present_(faults_.size(), false) {
    for (const SimulatedFault& fault : faults_) {
        if (find_fault(fault.name) == nullptr) {
            throw std::invalid_argument("simulated unit: there is no fault called " + fault.name);
        }
        if (!(fault.severity >= 0.0 && fault.severity <= 1.0)) {
            throw std::invalid_argument("simulated unit: the severity of " + fault.name +
                                        " is not within 0 and 1");
        }
    }
}

bool FaultSchedule::look(double seconds, const std::array<double, 2>& sink_celsius) {
    constexpr double hysteresis = 5.0;
    bool changed = false;
    for (std::size_t i = 0; i < faults_.size(); ++i) {
        const SimulatedFault& fault = faults_[i];
        const double sink = fault.channel == Channels::left ? sink_celsius[0]
                            : fault.channel == Channels::right
                                ? sink_celsius[1]
                                : std::max(sink_celsius[0], sink_celsius[1]);
        bool there = !fault.begins || seconds >= fault.begins->in<Seconds>();
        if (fault.above) {
            const double threshold = fault.above->in<Celsius>() - (present_[i] ? hysteresis : 0.0);
            there = there && sink > threshold;
        }
        changed = changed || there != present_[i];
        present_[i] = there;
    }
    return changed;
}

void FaultSchedule::apply_to(UnitParameters& unit, RigParameters& rig) const {
    for (std::size_t i = 0; i < faults_.size(); ++i) {
        if (present_[i]) {
            apply(faults_[i], unit, rig);
        }
    }
}

}  // namespace afterload::instruments
