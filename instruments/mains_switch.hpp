/// The contactor in the unit's mains: what opens it at once, whatever the unit does.
#pragma once

#include "instruments/async.hpp"
#include "instruments/failure.hpp"

#include <string>

namespace afterload::instruments {

class MainsSwitch {
public:
    MainsSwitch() = default;
    MainsSwitch(const MainsSwitch&) = delete;
    MainsSwitch& operator=(const MainsSwitch&) = delete;
    virtual ~MainsSwitch() = default;

    [[nodiscard]] virtual std::string identity() const = 0;
    /// Lets go of it. Only a person closes it again. May be called any number of times.
    [[nodiscard]] virtual Task<BenchResult<void>> open() = 0;
};

}  // namespace afterload::instruments
