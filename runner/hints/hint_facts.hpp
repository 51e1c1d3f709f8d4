/// The facts that hints are read from, taken out of a run: numbers, left and right, each with what
/// it can be at the least and at the most.
///
/// A figure can be as far off as its expanded uncertainty and what the rig may have added or
/// hidden: a hint that needs more than a limit needs it after both are taken off, so that a poor
/// rig names no fault of a good unit.
#pragma once

#include "runner/papers/run_document.hpp"
#include "sequences/hint_rules.hpp"

#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>

namespace afterload::runner {

struct FactValue {
    double value = 0.0;        ///< as measured; of a bound the bound
    double low = 0.0;          ///< least that it can be
    double high = 0.0;         ///< most
    bool rig_unknown = false;  ///< the bench does not say what the rig adds
};

/// Left and right. What is not of one channel stands at both.
struct FactOfRun {
    std::array<std::optional<FactValue>, 2> channels;
    bool shared = false;  ///< of no channel: mains, a word of the run
};

class HintFacts {
public:
    HintFacts(const RunDocument& run, const sequences::HintRules& rules);

    /// `name` must be a fact of the rules.
    [[nodiscard]] const FactOfRun& of(std::string_view name) const;

private:
    std::map<std::string, FactOfRun, std::less<>> facts_;
};

/// One minus the other, and their ratio and sum, with what each can be.
[[nodiscard]] FactValue difference(const FactValue& a, const FactValue& b);
[[nodiscard]] FactValue sum(const FactValue& a, const FactValue& b);
/// Absent where the divisor can be zero or less.
[[nodiscard]] std::optional<FactValue> quotient(const FactValue& a, const FactValue& b);
/// How far apart two values are, without a sign.
[[nodiscard]] FactValue distance(const FactValue& a, const FactValue& b);

}  // namespace afterload::runner
