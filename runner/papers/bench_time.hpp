/// Where the time of a step goes, on the bench's clock.
#pragma once

#include "analysis/quantity.hpp"

namespace afterload::runner {

struct BenchTime {
    Seconds recording;      ///< records that count, and those they took the place of
    Seconds settling;       ///< from a change of what is played until a record begins
    Seconds level_finding;  ///< looks at the output on the way to a level
    Seconds dwell;          ///< held at the level as the rating asks
    Seconds retakes;        ///< captures set aside, and waiting for an unsettled one
    Seconds other;          ///< switching, meters, prompts

    [[nodiscard]] Seconds total() const {
        return recording + settling + level_finding + dwell + retakes + other;
    }
    BenchTime& operator+=(const BenchTime& more) {
        recording += more.recording;
        settling += more.settling;
        level_finding += more.level_finding;
        dwell += more.dwell;
        retakes += more.retakes;
        other += more.other;
        return *this;
    }
};

}  // namespace afterload::runner
