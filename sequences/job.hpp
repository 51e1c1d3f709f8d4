/// A job file (`afterload: job/1`) as it stands in memory: one repair, in the words of the people.
#pragma once

#include <string>
#include <vector>

namespace afterload::sequences {

/// A part that was replaced.
struct PartEntry {
    std::string position;  ///< "C712"
    std::string part;      ///< "22 uF 50 V, film"
    std::string reason;
};

/// An adjustment, as found and as left.
struct AdjustmentEntry {
    std::string what;  ///< "idle current left, across R733"
    std::string found;
    std::string left;
};

/// A safety test that the local rules ask for, and what it gave.
struct SafetyEntry {
    std::string test;
    std::string result;
};

struct Job {
    std::string path;
    std::string ticket;
    std::string complaint;  ///< in the customer's words
    std::string cause;
    std::vector<std::string> work;
    std::vector<PartEntry> parts;
    std::vector<AdjustmentEntry> adjustments;
    std::vector<SafetyEntry> safety;
    std::vector<std::string> notes;
};

}  // namespace afterload::sequences
