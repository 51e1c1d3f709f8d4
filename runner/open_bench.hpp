/// From a bench file to a bench with its instruments open.
#pragma once

#include "instruments/bench.hpp"
#include "instruments/simulation.hpp"
#include "runner/operator.hpp"
#include "sequences/bench_file.hpp"

#include <tl/expected.hpp>

#include <memory>
#include <optional>
#include <string>

namespace afterload::runner {

/// What a simulated bench is told to simulate. `file.simulated` must be set.
///
/// The loads, ranges and the source are true to the file but for what a calibration does not know:
/// their errors are drawn with the rig seed from the uncertainties that the file states.
[[nodiscard]] instruments::Simulation simulation_of(const sequences::BenchFile& file,
                                                    std::optional<double> nominal_mains,
                                                    std::optional<Hertz> mains_frequency);

/// Opens the bench. Fails, in one line, when an instrument is not there. `person` is asked where a
/// range is switched by hand, and outlives the bench.
[[nodiscard]] tl::expected<std::unique_ptr<instruments::Bench>, std::string> open_bench(
    const sequences::BenchFile& file, std::optional<double> nominal_mains,
    std::optional<Hertz> mains_frequency, Operator& person);

}  // namespace afterload::runner
