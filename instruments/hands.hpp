/// What a person would do at the bench, where everything is simulated: turn a control, move a lead.
#pragma once

#include "instruments/async.hpp"
#include "instruments/failure.hpp"

#include <string>

namespace afterload::instruments {

class Hands {
public:
    Hands() = default;
    Hands(const Hands&) = delete;
    Hands& operator=(const Hands&) = delete;
    virtual ~Hands() = default;

    /// Sets `control` ("volume", "tone", "input", "speakers", "range") to `position` ("maximum",
    /// "defeat", "phono", "A"). Fails with `refused` for a control or position it does not know.
    [[nodiscard]] virtual Task<BenchResult<void>> set(std::string control,
                                                      std::string position) = 0;
};

}  // namespace afterload::instruments
