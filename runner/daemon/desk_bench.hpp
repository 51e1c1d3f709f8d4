/// The daemon's bench file, read anew for every run.
#pragma once

#include "runner/run_inputs.hpp"
#include "sequences/bench_file.hpp"

#include <tl/expected.hpp>

#include <string>

namespace afterload::runner {

struct DeskBench {
    InputText text;
    sequences::BenchFile file;
};
/// Fails, in one line, where no bench is named, the file is not there, or is no sound bench file:
/// the first mistake then.
[[nodiscard]] tl::expected<DeskBench, std::string> read_desk_bench(const std::string& path);

}  // namespace afterload::runner
