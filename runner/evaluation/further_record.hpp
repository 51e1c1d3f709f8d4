/// Which records would be worth making once more: those whose own noise alone leaves a verdict
/// open, and those in which too little time was watched to bound the rate of an event.
///
/// The length is fixed beforehand, from the noise of the first record, so that U falls to the
/// margin over analysis::further_guard; the further record alone then gives figure and verdict.
/// Going on until it looks decided would not keep the stated uncertainty true.
#pragma once

#include "runner/papers/run_document.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace afterload::runner {

struct FurtherRecord {
    std::size_t record = 0;  ///< index among the step's records that count
    Seconds length;
    std::string figure;                 ///< label of the figure that asks for it first
    std::vector<std::string> asked_by;  ///< ids of all that do
};

/// `records` are the paths of the records that count, in order, each `length` long. Records are
/// asked for at most once each, none longer than `longest`, none less than a tenth longer than the
/// first.
[[nodiscard]] std::vector<FurtherRecord> further_records(const std::vector<ScoredFigure>& figures,
                                                         const std::vector<std::string>& records,
                                                         Seconds length, Seconds longest);

}  // namespace afterload::runner
