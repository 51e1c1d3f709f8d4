/// The loads of a real bench: resistors on relays, a programmable load, or what a person connects.
#pragma once

#include "instruments/load.hpp"
#include "instruments/wire/scpi_instruments.hpp"
#include "runner/operator.hpp"
#include "sequences/bench_file.hpp"

#include <map>
#include <memory>
#include <string>
#include <vector>

namespace afterload::runner {

/// What takes a load off the unit, and the question whether it did (0: it did).
struct SafeLoad {
    std::string instrument;
    std::string command;
    std::string question;
};

struct RealLoads {
    std::unique_ptr<instruments::Load> load;
    std::vector<SafeLoad> off;  ///< for the guardian, behind what turns the signal off
};

/// `sessions` are those of the file's instruments, `routes` the texts of its relay box. The loads
/// of a checked file are connected in one way; `person` must outlive them.
[[nodiscard]] RealLoads real_loads(
    const sequences::BenchFile& file,
    const std::map<std::string, std::shared_ptr<instruments::ScpiSession>>& sessions,
    instruments::ScpiRoutes routes, Operator& person);

}  // namespace afterload::runner
