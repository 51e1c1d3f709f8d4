/// What can be wrong with a capture. A capture with a fault is never used silently.
#pragma once

#include "analysis/quantity.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace afterload {

enum class CaptureFaultKind {
    gap,         ///< samples are missing: the timeline slipped
    repeat,      ///< samples stand twice
    clipped,     ///< the converter reached its end
    unsettled,   ///< the level still moves
    too_short,   ///< shorter than the figure needs
    silent,      ///< nothing where a signal was asked for
    wrong_rate,  ///< the rate delivered is not the rate asked for
    not_finite   ///< NaN or infinity among the samples
};
[[nodiscard]] std::string_view name(CaptureFaultKind kind);  ///< "gap" ... ("short" for too_short)
[[nodiscard]] const std::vector<CaptureFaultKind>& capture_fault_kinds();  ///< all of them

struct CaptureFault {
    CaptureFaultKind kind = CaptureFaultKind::gap;
    int channel = 0;   ///< from 1; 0 is all channels
    Seconds start;     ///< from the start of the capture
    std::string note;  ///< one line: how large, how many
};

}  // namespace afterload
