/// A bench file (`afterload: bench/1`) as it stands in memory: the instruments present, the wiring,
/// ranges, loads, calibration, the rig's own part, and the limits of the house.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/level.hpp"
#include "analysis/quantity.hpp"

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::sequences {

/// How a range or a load is switched.
enum class Switching { fixed, relay, by_hand };

/// Channels of a card, from 1.
struct CardChannels {
    int left = 1;
    int right = 2;
};

/// The sound card, or what stands for it.
struct CardEntry {
    /// A digitiser stands on a wire; it records and does not play.
    enum class Driver { simulated, sound_card, digitiser };
    std::string name = "card";
    Driver driver = Driver::simulated;
    std::string device;  ///< empty for a simulated card; the name of the instrument for a digitiser
    SampleRate rate{48000.0};
    int bits = 24;
    CardChannels play;    ///< that feed left and right
    CardChannels record;  ///< and that sense them
    std::string opened;   ///< how the card opened in the run, both directions; not of the file
};

/// Which source output feeds which unit input, and how well its level is known.
struct SourceEntry {
    VoltsRms full_scale;  ///< open circuit, of a full-scale sine
    Ohms impedance;
    double level_u_k1 = 0.01;    ///< relative standard uncertainty of the level
    std::string calibration_id;  ///< identity for the budget: "source 2026-03-02"
    std::string instrument;      ///< the generator on a wire; empty: the card plays
    // Of a generator beside a card alone.
    /// Its own harmonics re the fundamental, by its data sheet or a notch; absent: unknown.
    std::optional<AmplitudeRatio> distortion;
    /// Closed while it feeds the unit; absent: resistors join the two.
    std::optional<int> relay;
};

/// One distortion finding of the rig: what the source's and the input's own halves are at a level.
/// Found with the halves apart (notch or filter in between), never from a loopback alone.
struct OwnDistortion {
    VoltsRms at;            ///< level at the unit's terminals
    AmplitudeRatio source;  ///< the source's own harmonics re the fundamental
    AmplitudeRatio input;   ///< the input's own harmonics re the fundamental
};

/// A divider setting between the unit's outputs and the card.
struct RangeEntry {
    std::string name;
    VoltsPeak full_scale;  ///< at the unit's terminals, at digital full scale
    VoltsPeak safe;        ///< never driven past this
    Switching switched = Switching::fixed;
    std::optional<int> relay;     ///< number of the relay that selects it
    double level_u_k1 = 0.004;    ///< relative standard uncertainty of volts (divider and card)
    double balance_u_k1 = 0.001;  ///< relative standard uncertainty of left against right
    std::string calibrated;       ///< date the level was found, ISO: "2026-03-02"
    std::optional<VoltsRms> own_noise;    ///< 20 Hz to 20 kHz, at the terminals, input shorted
    std::optional<VoltsRms> own_noise_a;  ///< the same, A-weighted
    std::optional<VoltsRms> own_hum;      ///< all mains lines together
    std::optional<AmplitudeRatio> own_separation;  ///< leak of one sense channel into the other
    std::vector<OwnDistortion> own_distortion;     ///< empty: unknown
    std::string own_found;                         ///< date the rig's own part was found
};

struct LoadEntry {
    Channels channel = Channels::both;
    Ohms resistance;
    double u_k1 = 0.005;  ///< relative standard uncertainty of the resistance
    Watts continuous;
    std::optional<Watts> short_term;  ///< watts it bears for `short_time`
    std::optional<Seconds> short_time;
    double temperature_coefficient = 0.0;  ///< 1/K
    double heat_u_k1 = 0.0;  ///< relative standard uncertainty of the resistance from its own heat
    std::string measured;    ///< date
    std::optional<int> relay;  ///< number of the relay that connects it
    std::string instrument;    ///< a programmable load on a wire; with neither it is wired
};

struct MeterEntry {
    std::string name;
    std::vector<std::string> reads;  ///< names of MeterQuantity
    std::string instrument;          ///< on a wire
    std::string file;                ///< a sensor of the system: /sys/class/hwmon/…/temp1_input
    double u_k1 = 0.005;             ///< relative standard uncertainty of a reading
};

/// Command texts of an instrument that deviates from SCPI-99, by what they do: "level" to
/// "VOLT {} VRMS". "{}" stands for the number, "{channel}" for 1 (left) or 2 (right).
using CommandTexts = std::map<std::string, std::string>;

/// An instrument on a wire.
struct WireEntry {
    std::string name;      ///< the shop's own: "generator"
    std::string address;   ///< tcp://HOST:PORT, serial:/dev/PATH?baud=9600, usbtmc:/dev/usbtmc0
    std::string identity;  ///< what its answer to *IDN? begins with; empty: whatever answers
    Seconds deadline{2.0};
    bool error_queue = true;  ///< false: it has none, and is believed
    CommandTexts commands;
};

/// A contactor that drops out by itself when it is not refreshed.
struct ContactorEntry {
    std::string instrument;
    std::string refresh;  ///< the command that holds it for a while
    std::string release;  ///< the command that lets it go at once; empty: it is left to drop out
    Seconds every{0.25};
};

/// Limits of the house; a sequence that asks for more is refused before anything is driven.
struct HouseLimits {
    std::optional<VoltsRms> largest_drive;
    std::optional<Watts> largest_output;  ///< a channel
    std::optional<Celsius> heat_sink;
    std::optional<Celsius> load;
};

/// A fault of the simulated unit.
struct FaultEntry {
    std::string fault;  ///< "starved_bias": see instruments/fault.hpp
    Channels channel = Channels::both;
    double severity = 0.5;          ///< 0 barely measurable, 0.5 typical, 1 gross
    std::optional<Seconds> begins;  ///< since power-on
    std::optional<Celsius> above;   ///< heat-sink temperature at which it begins
};

/// What a simulated bench simulates.
/// A control of the simulated unit that somebody left in the wrong place.
struct LeftWrongEntry {
    std::string control;   ///< "loudness"
    std::string position;  ///< "in"
    bool operator==(const LeftWrongEntry&) const = default;
};

struct SimulationEntry {
    std::uint64_t unit_seed = 1;
    std::uint64_t rig_seed = 1;
    std::uint64_t run_seed = 1;
    bool warm = true;   ///< state at the start
    Watts power{60.0};  ///< rated power class of the unit into `load`
    Ohms load{8.0};
    Gain line_gain{43.3};          ///< line input to speaker terminals, volume at maximum
    Gain phono_gain{35.6};         ///< phono input to the tape output at 1 kHz
    std::optional<Gain> headroom;  ///< clipping above the rated power; absent: typical of the class
    std::vector<FaultEntry> faults;
    std::vector<LeftWrongEntry> left_wrong;
    // The simulated rig; absent values are typical ones.
    std::optional<double> clock_ppm;         ///< the card's clock against true seconds
    std::optional<double> source_clock_ppm;  ///< the source's clock against the card's
    std::optional<AmplitudeRatio> source_distortion;
    std::optional<AmplitudeRatio> input_distortion;
    std::optional<DbFs> card_noise;       ///< A-weighted, re full scale
    std::optional<double> source_error;   ///< relative, of the source's level; else drawn
    std::optional<double> input_error;    ///< relative, of every range's full scale; else drawn
    std::optional<double> mains_voltage;  ///< V rms
};

/// A control of the card's mixer and its values, left to right, as the mixer says them.
struct MixerControl {
    std::string control;  ///< "Master Playback Volume"
    std::string values;   ///< "65536 65536", "on on"
    bool operator==(const MixerControl&) const = default;
};

struct BenchFile {
    std::string name;
    std::string path;
    std::optional<SimulationEntry> simulated;
    bool stand_in = false;  ///< an audio server stands where a sound card is meant
    CardEntry card;
    SourceEntry source;
    /// Beside the card, which plays what a generator cannot (players.hpp); absent: there is none.
    std::optional<SourceEntry> generator;
    std::vector<RangeEntry> ranges;  ///< at least one
    std::vector<LoadEntry> loads;
    std::vector<MeterEntry> meters;
    std::vector<WireEntry> instruments;  ///< on wires; source, meters and relays name them
    std::string relays;                  ///< the instrument that has the relays; empty: none
    std::optional<ContactorEntry> contactor;
    HouseLimits limits;
    double flatness_u_k1_db = 0.01;  ///< of source and input together over frequency, re 1 kHz
    bool sense_grounded = true;      ///< the sense leads share the card's ground
    std::string loop = "none";       ///< none, by_hand, switched
    std::string rig;         ///< path of the file of its calibration and rig check; empty: none
    std::string calibrated;  ///< from that file: when
    std::string checked;     ///< from that file: when the rig check was made, RFC 3339
    std::vector<MixerControl> mixer;  ///< from that file: how the mixer stood
    /// The file as it was written, before that was laid over it: what a simulated rig is true to.
    std::shared_ptr<const BenchFile> written;
    std::string cut_out = "none";  ///< what opens the unit's mains by itself
};

/// The instrument called `name`; null: the file has none of that name.
[[nodiscard]] const WireEntry* find_instrument(const BenchFile& bench, std::string_view name);

/// The file's own text for a command of `entry`, else `usual`, which is SCPI-99's.
[[nodiscard]] std::string command_text(const WireEntry& entry, const std::string& name,
                                       const std::string& usual);

/// The load of a channel, `Channels::left` or `right`, that is of `resistance` (same_load()), or
/// the first where none is said; null: there is none.
[[nodiscard]] const LoadEntry* find_load(const BenchFile& bench, Channels channel,
                                         std::optional<Ohms> resistance);

/// Can the program let go of `load` by itself: a relay, or a programmable load?
[[nodiscard]] bool is_switched(const LoadEntry& load);

/// The resistances that the bench's loads have, one for each kind, as the file lists them.
[[nodiscard]] std::vector<Ohms> load_kinds(const BenchFile& bench);

/// What a shop may say its own text for: "frequency", "off", "close", "dc_offset" …
[[nodiscard]] const std::vector<std::string_view>& command_names();

}  // namespace afterload::sequences
