/// The files that a run is made from, read and held against each other.
#pragma once

#include "runner/options.hpp"
#include "runner/run.hpp"
#include "sequences/diagnostic.hpp"

#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace afterload::runner {

/// What is asked of a run, every file as its text: what travels to the program that owns the bench.
struct RunRequest {
    std::vector<InputText> files;  ///< "sequence", "rating", "bench"; where given "house", "job"
    std::vector<std::pair<std::string, std::string>> set;  ///< parameters of the sequence
    std::string serial;
    std::string job;  ///< a label; what a job file says (job_label.hpp) goes before it
    Stage stage = Stage::repaired;
    bool power_as_received = false;

    [[nodiscard]] const InputText* file(std::string_view role) const;
};

/// A file that is not there, in one line.
struct MissingInput {
    std::string what;
};
using Mistakes = std::vector<sequences::Diagnostics>;

/// The texts of all files of `options`; the bench's only where one is named.
[[nodiscard]] std::variant<RunRequest, MissingInput> read_run_request(const RunOptions& options);

/// Reviews the sequence against sheet and bench. All mistakes of all files come back together. A
/// role that is absent counts as an empty file.
[[nodiscard]] std::variant<RunPlan, Mistakes> plan_of(const RunRequest& request);

/// Both, one after the other.
[[nodiscard]] std::variant<RunPlan, Mistakes, MissingInput> read_run_inputs(
    const RunOptions& options);

}  // namespace afterload::runner
