/// The faults of the simulated unit, as data: what each changes in one specimen's numbers.
///
/// A fault is drawn by name, channel and severity, so that anybody can put a unit on the bench that
/// no test has seen. Severity 0 is barely measurable, 0.5 typical, 1 gross; between them every
/// number moves in a straight line. Typical numbers are common practice of the trade unless a
/// source is named in the table.
#pragma once

#include "instruments/simulation.hpp"
#include "instruments/unit_parameters.hpp"

#include <array>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace afterload::instruments {

/// What the rig itself may do wrong.
struct RigParameters {
    double lost_frames = 0.0;    ///< frames that the first record after the fault began loses, once
    double rig_hum_gain = 1.0;   ///< factor on the hum that the leads pick up: a ground loop
    double card_lost = 0.0;      ///< from 1 its capture is gone, from 1.5 its playing too
    double frozen_frames = 0.0;  ///< playing repeats its last so many frames until it is told anew
    double mains_factor = 1.0;   ///< on the mains of the room
    double leads_swapped = 0.0;  ///< from 0.5 each input hears the other channel
    double leads_joined = 0.0;   ///< share of the other channel in what an input hears
    double gain_riding = 0.0;    ///< decibels that the card takes off for each that the level rises
    double late_seconds = 0.0;   ///< silence at the start of the first record after the fault began
    // Of the first sensor on the heat sink.
    double sensor_dead = 0.0;    ///< from 0.5 it answers a fault code
    double sensor_frozen = 0.0;  ///< from 0.5 it answers what it answered when that began
    double sensor_kelvin = 0.0;  ///< added to what it answers
};

/// One number that a fault changes.
struct FaultEffect {
    enum class How { times, plus, set };
    using Number = std::variant<double ChannelParameters::*, double SupplyParameters::*,
                                double RigParameters::*>;
    Number number;  ///< of the channels the fault is in; supply and rig are common to both
    How how = How::times;
    std::array<double, 3> at{};  ///< at severity 0, 0.5 and 1
};

struct FaultKind {
    std::string_view name;
    std::string_view meaning;  ///< one line: what has happened to the part
    std::vector<FaultEffect> effects;
};

/// All faults there are, in the order of a list for people.
[[nodiscard]] std::span<const FaultKind> fault_kinds();

/// Null: nobody knows this fault.
[[nodiscard]] const FaultKind* find_fault(std::string_view name);

/// `at` for a severity of 0 … 1.
[[nodiscard]] double at_severity(const std::array<double, 3>& at, double severity);

/// Changes `unit` and `rig` as `fault` says, whenever it begins. The fault's name must be known.
void apply(const SimulatedFault& fault, UnitParameters& unit, RigParameters& rig);

/// Which of the faults are there now. A fault that begins above a temperature ends again five
/// kelvin below it, as a cracked joint does.
class FaultSchedule {
public:
    /// Fails  std::invalid_argument: a name nobody knows, a severity outside 0 … 1.
    explicit FaultSchedule(std::vector<SimulatedFault> faults);

    /// Looks at the clock (seconds since power-on) and both heat-sinks; true: something began or
    /// ended.
    bool look(double seconds, const std::array<double, 2>& sink_celsius);
    /// The healthy numbers with every fault that is there now.
    void apply_to(UnitParameters& unit, RigParameters& rig) const;

private:
    std::vector<SimulatedFault> faults_;
    std::vector<bool> present_;
};

}  // namespace afterload::instruments
