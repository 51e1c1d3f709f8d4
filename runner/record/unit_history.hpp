/// A unit that comes back: is it the same fault, the same channel, the same path?
#pragma once

#include "runner/record/run_index.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace afterload::runner {

/// A fault as the record tells it from another: which figure, of which channel, on which path. All
/// figures of one kind there are one fault, at whatever level and frequency.
struct RecordedFault {
    FigureKind kind = FigureKind::output_voltage;
    int channel = 0;
    std::optional<std::pair<int, int>> pair;
    std::string path;                 ///< the heading it stands under: "Direct path"
    std::vector<std::string> labels;  ///< of the figures that failed so, each once

    [[nodiscard]] bool same_place(const RecordedFault& other) const;
};

/// How a fault of now stands to those of earlier repairs.
enum class Recurrence { same, other_channel, other_path, first };
[[nodiscard]] std::string_view name(Recurrence recurrence);  ///< "other_channel"

struct FaultOfNow {
    RecordedFault fault;
    Recurrence recurrence = Recurrence::first;
    std::optional<RecordedFault> earlier;  ///< what it is held against; empty for a first
    std::string when;                      ///< start of the run in which that failed last
    std::string job;                       ///< and its ticket
    std::string
        passed;  ///< start of the last earlier run in which it was measured and did not fail
};

/// What was written of an earlier repair, or of another unit with the same fault.
struct WrittenThen {
    std::string serial;
    std::string when;
    std::string job;
    std::string fault;               ///< of another unit: in words
    std::vector<std::string> lines;  ///< "cause: ...", "anna: ..."
};

struct UnitHistory {
    std::string maker;
    std::string model;
    std::string serial;
    std::vector<IndexedRun> now;      ///< runs of this repair, newest first
    std::vector<IndexedRun> earlier;  ///< the others, newest first
    std::vector<FaultOfNow> faults;
    std::vector<std::pair<RecordedFault, std::string>> only_earlier;  ///< with the last time
    std::vector<WrittenThen> written;
    std::vector<WrittenThen> elsewhere;  ///< other units of the model
};

/// The history of a unit. `own` holds all its readings (one model), `failed` those that failed on
/// any unit of the model.
///
/// This repair is the newest run with all that share its ticket; where it has none, with all since
/// the unit passed last. Everything else is earlier.
[[nodiscard]] UnitHistory unit_history(const FoundReadings& own, const FoundReadings& failed);

/// "THD, left", "separation, left into right".
[[nodiscard]] std::string words(const RecordedFault& fault);

}  // namespace afterload::runner
