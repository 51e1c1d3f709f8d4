/// What a simulated bench simulates: one amplifier, the rig around it, three seeds.
///
/// The same settings give the same samples, byte for byte, with the same build. Every default is a
/// typical value for a two-channel integrated amplifier of the 60 W class on a decent sound card.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/level.hpp"
#include "analysis/quantity.hpp"

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace afterload::instruments {

/// A fault of the unit (or, where fault.hpp says so, of the rig). Names are those of fault_kinds().
struct SimulatedFault {
    std::string name;  ///< "starved_bias"
    Channels channel = Channels::both;
    double severity = 0.5;          ///< 0 barely measurable, 0.5 typical, 1 gross
    std::optional<Seconds> begins;  ///< since power-on; a warm start counts from the opening
    std::optional<Celsius> above;   ///< heat-sink temperature above which it is there
};

/// A control of the unit that somebody left in the wrong place: it stays there, whatever a prompt
/// asks for. Names and positions are those of turn() in unit_controls.hpp.
struct LeftWrong {
    std::string control;   ///< "loudness"
    std::string position;  ///< "in"
};

/// A divider setting. The record carries `full_scale` as its calibration; `error` is what the
/// calibration does not know: the true full scale of a channel is full_scale · (1 + error).
struct SimulatedRange {
    std::string name;
    VoltsPeak full_scale;           ///< at the unit's terminals, at digital full scale
    VoltsPeak safe;                 ///< what the card bears at the unit's terminals
    std::array<double, 2> error{};  ///< relative, left and right
};

/// One dummy load. Its true value is nominal · (1 + error) · (1 + temperature_coefficient · rise).
struct SimulatedLoad {
    Ohms nominal{8.0};
    double error = 0.0;                    ///< relative
    double temperature_coefficient = 0.0;  ///< 1/K
    double rise_per_watt = 0.7;            ///< K/W on its heat-sink, time constant 4 min
};

/// A generator beside the card: its relay is closed while it plays.
struct SimulatedGenerator {
    VoltsPeak full_scale{2.828};  ///< open circuit
    double level_error = 0.0;     ///< relative: what it plays is asked · (1 + error)
    Ohms impedance{50.0};
    AmplitudeRatio distortion{1.0e-6};  ///< second and third harmonic together
    double clock_ppm = 0.0;             ///< against the card's
};

struct Simulation {
    std::uint64_t unit_seed = 1;  ///< spreads of the unit: which specimen it is
    std::uint64_t rig_seed = 1;   ///< phases of the rig's own distortion, its hum
    std::uint64_t run_seed = 1;   ///< noise, mains wander

    // The unit.
    bool warm = true;   ///< settled at idle; otherwise switched on ten seconds ago
    Watts power{60.0};  ///< rated power class into `load`, both channels driven
    Ohms load{8.0};
    Gain line_gain{43.3};          ///< line input to speaker terminals, volume at maximum
    Gain phono_gain{35.6};         ///< phono stage at 1 kHz
    std::optional<Gain> headroom;  ///< clipping above rated power, exact, at nominal mains with
                                   ///< both channels driven; absent: drawn from 0.25 … 0.55 dB
    std::vector<SimulatedFault> faults;
    std::vector<LeftWrong> left_wrong;

    // The rig.
    SampleRate rate{48000.0};       ///< of the card
    int bits = 24;                  ///< 16 to 32
    double clock_ppm = 12.0;        ///< the card's clock against true seconds: mains lines move
    double source_clock_ppm = 0.0;  ///< the source's clock against the card's
    VoltsPeak source_full_scale{2.828};  ///< open circuit
    double source_level_error = 0.0;     ///< relative: what it plays is asked · (1 + error)
    Ohms source_impedance{100.0};
    /// Second and third harmonic of the source together, re the fundamental. The source sets its
    /// level behind its converter, so the ratio is the same at every level.
    AmplitudeRatio source_distortion{1.0e-5};
    /// The same of the card's input for a sine at −6 dBFS; the second falls with the level, the
    /// third with its square. Signs of both halves follow the rig seed, so the two may add or
    /// cancel.
    AmplitudeRatio input_distortion{1.8e-5};
    Gain source_noise{-112.0};     ///< A-weighted, re the level that plays; silent when muted
    DbFs card_noise{-105.0};       ///< A-weighted, of the input
    Hertz ac_corner{2.0};          ///< −3 dB of the card's input coupling, first order
    VoltsRms rig_hum{20e-6};       ///< hum the leads pick up, at the unit's terminals
    double mains_voltage = 230.0;  ///< V rms, mean
    double mains_wander = 0.3;     ///< V rms, slow
    double nominal_mains = 230.0;  ///< V rms at which the unit meets its rating
    Hertz mains_frequency{50.0};   ///< nominal; the true one wanders by ±0.05 Hz
    double meter_error = 0.0;      ///< relative, of the meter at the source's output
    std::optional<SimulatedGenerator> generator;
    int sink_sensors = 1;  ///< on each channel's heat-sink, each with its own reading
    Celsius ambient{22.0};
    std::vector<SimulatedRange> ranges{{"power", VoltsPeak{50.0}, VoltsPeak{60.0}, {}},
                                       {"quiet", VoltsPeak{4.0}, VoltsPeak{5.0}, {}}};
    std::array<SimulatedLoad, 2> loads{};                   ///< left, right
    std::vector<std::array<SimulatedLoad, 2>> other_loads;  ///< that can stand in their place
};

}  // namespace afterload::instruments
