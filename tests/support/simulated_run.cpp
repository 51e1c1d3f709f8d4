#include "tests/support/simulated_run.hpp"

#include "runner/open_bench.hpp"
#include "runner/run_inputs.hpp"
#include "runner/run_to_end.hpp"

#include <atomic>
#include <stdexcept>
#include <stdlib.h>

namespace afterload::test {

TemporaryFolder::TemporaryFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "afterload-test-XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr) {
        throw std::runtime_error("no temporary folder can be made");
    }
    path_ = name;
}

TemporaryFolder::~TemporaryFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
}

runner::RunPlan plan_of(const SimulatedRun& wanted) {
    const std::string fixtures = std::string{AFTERLOAD_SOURCE_DIR} + "/fixtures/";
    runner::RunOptions options;
    options.sequence = wanted.sequence.ends_with(".yaml")
                           ? fixtures + wanted.sequence
                           : std::string{AFTERLOAD_SOURCE_DIR} + "/sequences/shipped/" +
                                 wanted.sequence + ".sequence.yaml";
    options.unit = fixtures + wanted.unit;
    options.house = wanted.house.empty() ? "" : fixtures + wanted.house;
    options.bench = fixtures + wanted.bench;
    options.serial = "1873";
    options.stage = wanted.stage;
    options.set = wanted.set;
    auto inputs = runner::read_run_inputs(options);
    if (const auto* mistakes = std::get_if<runner::Mistakes>(&inputs)) {
        std::string all;
        for (const auto& file : *mistakes) {
            all += sequences::text(file);
        }
        throw std::runtime_error(all);
    }
    if (const auto* missing = std::get_if<runner::MissingInput>(&inputs)) {
        throw std::runtime_error(missing->what);
    }
    runner::RunPlan plan = std::get<runner::RunPlan>(std::move(inputs));
    if (wanted.change) {
        wanted.change(plan);
    }
    return plan;
}

FinishedSimulatedRun carry_out(const SimulatedRun& wanted, const std::string& parent,
                               const std::string& name) {
    runner::RunPlan plan = plan_of(wanted);
    plan.id = name;
    plan.started = "2026-03-14T09:00:00.000Z";
    const auto folder = runner::RunFolder::make(parent, name);
    if (!folder) {
        throw std::runtime_error(folder.error());
    }
    runner::AssumedOperator person;
    auto bench = runner::run_to_end(runner::open_bench(plan.bench, plan.sheet.unit->mains_voltage,
                                                       plan.sheet.unit->mains_frequency, person));
    if (!bench) {
        throw std::runtime_error(bench.error());
    }
    std::unique_ptr<instruments::Bench> used = std::move(bench->bench);
    if (wanted.wrap) {
        used = wanted.wrap(std::move(used));
    }
    runner::NoProgress progress;
    const std::atomic<bool> stop{false};
    FinishedSimulatedRun finished;
    finished.folder = folder->path();
    finished.document = runner::run_to_end(
        runner::carry_out(std::move(plan), *used, person, progress, *folder, stop));
    return finished;
}

}  // namespace afterload::test
