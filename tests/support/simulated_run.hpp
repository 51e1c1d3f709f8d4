/// A whole run on a simulated bench, in a folder that goes away with it.
#pragma once

#include "instruments/bench.hpp"
#include "runner/options.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/run.hpp"

#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <utility>
#include <vector>

namespace afterload::test {

/// A folder under the system's temporary one, removed at the end of its life.
class TemporaryFolder {
public:
    TemporaryFolder();
    ~TemporaryFolder();
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;
    [[nodiscard]] std::string path() const { return path_.string(); }

private:
    std::filesystem::path path_;
};

/// What to run; paths are below fixtures/, but a sequence without an ending is a shipped one.
struct SimulatedRun {
    std::string sequence = "quick-check";
    std::string unit = "units/hollinfay-h40.rating.yaml";
    std::string house = "house.rating.yaml";
    std::string bench = "benches/north.bench.yaml";
    runner::Stage stage = runner::Stage::repaired;
    std::vector<std::pair<std::string, std::string>> set;
    /// Changes the plan after it was read and reviewed: seeds, faults, the rig.
    std::function<void(runner::RunPlan&)> change;
    /// Puts another bench before the simulated one, to make it fail.
    std::function<std::unique_ptr<instruments::Bench>(std::unique_ptr<instruments::Bench>)> wrap;
};

struct FinishedSimulatedRun {
    runner::RunDocument document;
    std::string folder;
};

/// Reads, reviews and changes it. Throws as `carry_out` does.
[[nodiscard]] runner::RunPlan plan_of(const SimulatedRun& wanted);

/// Reads, reviews and carries it out in `parent`. Throws std::runtime_error with the mistakes when
/// the files are not in order: a test then fails with them.
[[nodiscard]] FinishedSimulatedRun carry_out(const SimulatedRun& wanted, const std::string& parent,
                                             const std::string& name = "run");

}  // namespace afterload::test
