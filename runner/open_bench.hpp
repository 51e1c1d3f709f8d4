/// From a bench file to a bench with its instruments open.
#pragma once

#include "instruments/bench.hpp"
#include "instruments/simulation.hpp"
#include "runner/operator.hpp"
#include "sequences/bench_file.hpp"

#include <tl/expected.hpp>

#include <map>
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

/// A bench, and who its instruments on a wire said they are, by the names of the bench file.
struct OpenedBench {
    std::unique_ptr<instruments::Bench> bench;
    std::map<std::string, std::string> identities;
    std::string card;  ///< how a sound card opened, both directions; empty for any other
};

/// Opens the bench on the executor that awaits this; it must be gone before that executor is.
/// Fails, in one line, when an instrument is not there. `person` is asked where a range is switched
/// by hand, and outlives the bench.
[[nodiscard]] instruments::Task<tl::expected<OpenedBench, std::string>> open_bench(
    sequences::BenchFile file, std::optional<double> nominal_mains,
    std::optional<Hertz> mains_frequency, Operator& person);

}  // namespace afterload::runner
