/// Soaks on the simulated bench, with what it suffered when they were over.
#pragma once

#include "instruments/simulated_bench.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/run.hpp"
#include "sequences/soak.hpp"

#include <atomic>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace afterload::test {

/// What to soak, and with what faults; times since the bench was opened.
struct WantedSoak {
    std::string sequence = "sequences/short-soak.sequence.yaml";  ///< below fixtures
    double minutes = 4.0;
    std::string signal = "sine";
    std::vector<sequences::FaultEntry> faults;
    std::optional<std::uint64_t> run_seed;
    int sink_sensors = 1;
    double rate = 32000.0;  ///< lower than a card's usual one: every block is computed all the same
    bool remeasure = false;
    /// Changes the soak after it was read.
    std::function<void(sequences::Soak&)> change;
    std::function<void(runner::RunPlan&)> change_plan;
    /// The run is told to stop when so much of its bench time has passed.
    std::optional<Seconds> stop_after;
};

struct Soaked {
    runner::RunDocument document;
    instruments::Strain strain;  ///< when the run had ended
    std::string folder;

    /// The result of the soak itself.
    [[nodiscard]] const runner::StepResult& step() const;
    [[nodiscard]] const runner::SoakResult& soak() const { return *step().soak; }
    [[nodiscard]] const std::vector<runner::RunEvent>& events() const { return step().events; }
    /// Events of one of these kinds, of the unit's or lead's or whoever's.
    [[nodiscard]] std::vector<runner::RunEvent> of_kind(
        const std::vector<std::string>& kinds) const;
    /// Nothing is driven any more, or the unit has no mains.
    [[nodiscard]] bool outputs_safe() const { return !strain.driven || !strain.powered; }
    /// All events and decisions in one text, without wall time: what two runs are compared by.
    [[nodiscard]] std::string told() const;
};

/// Carries it out in `parent`. Throws where the files are not in order.
[[nodiscard]] Soaked soaked(const WantedSoak& wanted, const std::string& parent,
                            const std::string& name = "run");

[[nodiscard]] sequences::FaultEntry fault(std::string name, Channels channel, double severity,
                                          std::optional<double> begins,
                                          std::optional<double> above = std::nullopt);

}  // namespace afterload::test
