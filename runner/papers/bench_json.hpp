/// The bench file as it stands in a run document, and back.
#pragma once

#include "runner/papers/json_place.hpp"
#include "runner/papers/json_text.hpp"
#include "sequences/bench_file.hpp"

namespace afterload::runner {

[[nodiscard]] Json bench_json(const sequences::BenchFile& bench);
[[nodiscard]] sequences::BenchFile get_bench(const JsonPlace& place);

[[nodiscard]] Json simulation_json(const sequences::SimulationEntry& simulation);
[[nodiscard]] sequences::SimulationEntry get_simulation(const JsonPlace& place);

}  // namespace afterload::runner
