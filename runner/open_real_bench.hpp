/// From a bench file to instruments that are there: a sound card, instruments on wires behind a
/// guardian, sensors, switches by hand.
#pragma once

#include "runner/open_bench.hpp"

#include <string>

namespace afterload::runner {

/// As open_bench(), for a bench that simulates nothing. `person` outlives the bench.
[[nodiscard]] instruments::Task<tl::expected<OpenedBench, std::string>> open_real_bench(
    sequences::BenchFile file, Operator& person);

}  // namespace afterload::runner
