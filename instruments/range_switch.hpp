/// Selects the divider between the unit's outputs and the card.
#pragma once

#include "instruments/async.hpp"
#include "instruments/failure.hpp"

#include <string>

namespace afterload::instruments {

class RangeSwitch {
public:
    RangeSwitch() = default;
    RangeSwitch(const RangeSwitch&) = delete;
    RangeSwitch& operator=(const RangeSwitch&) = delete;
    virtual ~RangeSwitch() = default;

    /// Name of the range that is selected now. At rest it is the one with the highest safe voltage.
    [[nodiscard]] virtual std::string selected() const = 0;
    /// Fails with `refused` for a range that the bench does not have.
    [[nodiscard]] virtual Task<BenchResult<void>> select(std::string range) = 0;
};

}  // namespace afterload::instruments
