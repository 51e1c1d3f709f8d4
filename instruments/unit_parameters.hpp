/// One specimen of the simulated amplifier: every number of its model, drawn by the unit seed.
///
/// The numbers are those of a conventional class AB integrated amplifier of the 60 W class with
/// their spread from unit to unit and from left to right, scaled to the power class: voltages with
/// the rated peak voltage, currents with the rated peak current. Common practice, no single source.
#pragma once

#include "instruments/simulation.hpp"
#include "instruments/supply.hpp"

#include <array>

namespace afterload::instruments {

inline constexpr std::size_t hum_lines = 6;  ///< 1, 2, 3, 4, 5 and 6 times the mains frequency

/// What each channel has of its own. A fault changes some of these numbers and nothing else.
struct ChannelParameters {
    // Line stage.
    double line_gain = 146.0;     ///< line input to the output stage, volume at maximum, ratio
    double coupling_hertz = 3.4;  ///< corner of the series coupling capacitor
    double feedback_hertz = 1.6;  ///< corner of the feedback-leg capacitor
    double volume_error_decibels = 0.0;  ///< at the mark −20 dB, growing with attenuation
    double crosstalk = 4e-4;             ///< from the other channel at 1 kHz, 6 dB an octave
    double bleed = 0.0;                  ///< from the other channel, the same at all frequencies
    // Phono stage.
    double phono_gain = 60.3;         ///< at 1 kHz, ratio
    double phono_bass_error = 1.0;    ///< factor on the 318 us time constant
    double phono_treble_error = 1.0;  ///< factor on the 75 us time constant
    double phono_noise = 0.4e-6;      ///< V, A-weighted, at its input, before equalisation
    // Tone stage.
    double bass_decibels = 10.0;          ///< at 100 Hz, at either end of the knob
    double treble_decibels = 10.0;        ///< at 10 kHz
    double bass_centre_decibels = 0.0;    ///< error of the centre position at 100 Hz
    double treble_centre_decibels = 0.0;  ///< at 10 kHz
    // Output stage.
    double second = 1.5e-4;      ///< x² of the rated peak: twice the 2nd harmonic at rated
    double third = 1.5e-4;       ///< x³ of the rated peak: four times the 3rd
    double positive_rail = 1.0;  ///< factor on the unloaded rail
    double negative_rail = 1.0;
    double current_limit = 10.0;   ///< A peak, of the protective limiter
    double emitter_volts = 0.012;  ///< across one emitter resistor, warm and idle
    double emitter_ohms = 0.33;
    double bias_tracking = 0.003;        ///< relative bias a kelvin of the heat-sink
    double warm_up_seconds = 540.0;      ///< of the bias
    double loop_gain = 178.0;            ///< at low frequencies, falling 20 dB a decade from 1 kHz
    double top_hertz = 120e3;            ///< upper corner
    double slew_volts_per_second = 0.0;  ///< 0: never reached
    double offset_volts = 0.008;         ///< warm
    double offset_cold_volts = 0.025;    ///< just switched on; time constant 3 min
    double offset_per_kelvin = 0.0;      ///< V a kelvin of the heat-sink
    double output_gain = 1.0;            ///< of everything before the output: 0 is a dead channel
    // To the terminals.
    double output_ohms_a = 0.06;  ///< at the terminals of speaker set A, contact included
    double output_ohms_b = 0.065;
    double contact_ohms = 0.0;   ///< added by the relay of set A
    double contact_cubic = 0.0;  ///< relative rise of contact_ohms a square ampere
    double film_ohms = 0.0;      ///< of a film on that relay's contacts at low voltage
    double film_volts = 0.0;     ///< that the film bears at most
    // What is there without a signal.
    double noise_volts = 0.12e-3;               ///< A-weighted, at the output, volume at zero
    double input_noise_volts = 1.9e-6;          ///< A-weighted, at the line input
    std::array<double, hum_lines> hum_volts{};  ///< V rms at the output
    std::array<double, hum_lines> hum_phase{};  ///< radians
    double hum_gain = 1.0;                      ///< factor on all lines
    double step_volts = 0.0;                    ///< size of random two-level steps at the output
    double step_rate = 0.0;                     ///< changes a second
    double dropout_decibels = 0.0;              ///< loss while a bad joint is open
    double dropout_rate = 0.0;                  ///< openings a second; each lasts 0.1 s on average
    // Of the rig's sense lead.
    double lead_rate = 0.0;  ///< openings a second, 0.1 s on average
    double lead_gain = 1.0;  ///< of what it brings: -1 the wrong way about, 0 off
    double load_off = 0.0;   ///< of the rig: from 0.5 its dummy load is not connected
    // Heat.
    double sink_kelvin_per_watt = 0.9;
    double sink_seconds = 900.0;
    double idle_watts = 5.0;         ///< into the heat-sink
    double idle_follows_bias = 0.0;  ///< share of idle_watts that grows with the bias
};

struct UnitParameters {
    std::array<ChannelParameters, 2> channels;
    SupplyParameters supply;
    double rated_peak_volts = 31.0;  ///< into `rated_ohms`
    double rated_ohms = 8.0;
    double power_gain = 21.9;  ///< pre-out to the output stage: 1 V rms makes rated output
    double tone_level = 5.0;   ///< V rms in the tone stage at rated output
};

/// The healthy unit that `simulation` asks for.
[[nodiscard]] UnitParameters healthy_unit(const Simulation& simulation);

/// Output peak at which clipping starts at nominal mains with both channels driven into the rated
/// load for long: rail less half the ripple, less what the output stage needs.
[[nodiscard]] double clipping_peak(const UnitParameters& unit, std::size_t channel,
                                   double mains_hertz);

}  // namespace afterload::instruments
