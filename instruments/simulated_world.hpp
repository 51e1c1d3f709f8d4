/// The simulated room: the unit, the card, the loads and the mains, moved along one time line.
#pragma once

#include "analysis/stimulus.hpp"
#include "instruments/meter.hpp"
#include "instruments/simulated_bench.hpp"
#include "instruments/simulation.hpp"
#include "instruments/unit_controls.hpp"

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace afterload::instruments {

/// Everything that is not an interface. Time moves only through advance() and record().
class SimulatedWorld {
public:
    explicit SimulatedWorld(const Simulation& simulation);
    ~SimulatedWorld();
    SimulatedWorld(const SimulatedWorld&) = delete;
    SimulatedWorld& operator=(const SimulatedWorld&) = delete;

    [[nodiscard]] Seconds now() const;
    void advance(Seconds duration);
    /// The next `frames` frames of both channels, as integers of the card.
    [[nodiscard]] std::vector<std::vector<std::int32_t>> record(Frames frames);
    /// The same into `out`, whose memory serves again.
    void record_into(Frames frames, std::vector<std::vector<std::int32_t>>& out);
    /// Is the card's capture gone, and its playing too?
    [[nodiscard]] bool capture_lost() const;
    [[nodiscard]] bool playing_lost() const;

    /// Replaces what plays; silence mutes.
    void play(const Stimulus& stimulus);
    /// Which of the two plays from now on; ends what the other one played.
    void hand_over(bool to_generator);
    void connect_load(bool connected);
    /// Those of `resistance` are the loads from now on; false: there are none. Heat stays where it
    /// is: they share their heat-sinks.
    [[nodiscard]] bool choose_loads(Ohms resistance);
    void select_range(std::size_t index);
    /// As a person turns them; what was left wrong stays where it is.
    void set_controls(const UnitControls& controls);
    [[nodiscard]] const UnitControls& controls() const;
    /// The contactor in the unit's mains: let go, the unit gives nothing any more.
    void open_mains();
    [[nodiscard]] bool mains_open() const;
    /// A reading with the meter's own noise; `right` matters where the quantity has a channel.
    [[nodiscard]] MeterReading read(MeterQuantity quantity, bool right);
    /// What sensor `index` (from 0) of the heat-sink of a channel answers; nothing: a fault code.
    [[nodiscard]] std::optional<MeterReading> read_sink_sensor(std::size_t index, bool right);
    [[nodiscard]] Strain strain() const;

private:
    class Parts;
    std::unique_ptr<Parts> parts_;
};

}  // namespace afterload::instruments
