/// Figures, conditions, budgets and faults as JSON: the part that the run document and the analysis
/// document share. Keys carry their SI unit: load_ohm, frequency_hz, bandwidth_hz [low, high].
///
/// A level stands twice: as text for a reader ("output_level": "1 W") and exactly, for reading back
/// ("output_level_exact": {"kind": "output_power", "value": 1.0}).
#pragma once

#include "analysis/capture_fault.hpp"
#include "analysis/figure.hpp"
#include "runner/papers/json_place.hpp"
#include "runner/papers/json_text.hpp"

#include <optional>
#include <string_view>
#include <vector>

namespace afterload::runner {

/// Adds "unit", "value" or "bound", "u_k1", "u_k2", "budget", the rig's part, conditions, table,
/// curve and details of `figure` to `out`, in the order of the contract.
void put_figure(Json& out, const Figure& figure);
/// Reads it back. A "u_k1" that its own budget does not give is a misfit: the file was edited.
[[nodiscard]] Figure get_figure(const JsonPlace& place);

[[nodiscard]] Json conditions_json(const Conditions& conditions);
[[nodiscard]] Conditions get_conditions(const JsonPlace& place);

[[nodiscard]] Json level_json(const LevelTarget& level);  ///< {"kind", "value"}
[[nodiscard]] LevelTarget get_level(const JsonPlace& place);

[[nodiscard]] Json faults_json(const std::vector<CaptureFault>& faults);
[[nodiscard]] std::vector<CaptureFault> get_faults(const JsonPlace& place);

[[nodiscard]] std::optional<Channels> channels_named(std::string_view wanted);

}  // namespace afterload::runner
