/// The instruments that are present, opened together and closed together.
#pragma once

#include "instruments/capture.hpp"
#include "instruments/clock.hpp"
#include "instruments/hands.hpp"
#include "instruments/load.hpp"
#include "instruments/mains_switch.hpp"
#include "instruments/meter.hpp"
#include "instruments/range_switch.hpp"
#include "instruments/source.hpp"

#include <string>

namespace afterload::instruments {

class Bench {
public:
    Bench() = default;
    Bench(const Bench&) = delete;
    Bench& operator=(const Bench&) = delete;
    virtual ~Bench() = default;

    [[nodiscard]] virtual Clock& clock() = 0;
    [[nodiscard]] virtual Source& source() = 0;
    /// A generator beside the card that source() is; null: there is none. What plays is muted
    /// before the other begins.
    [[nodiscard]] virtual Source* generator() { return nullptr; }
    [[nodiscard]] virtual Capture& capture() = 0;
    [[nodiscard]] virtual Load& load() = 0;
    [[nodiscard]] virtual RangeSwitch& range_switch() = 0;
    /// Null where there is none: the reading is then typed in, or the figure is not tested.
    [[nodiscard]] virtual Meter* meter() = 0;
    /// Null on a bench with anything real on it.
    [[nodiscard]] virtual Hands* hands() = 0;
    /// Null where nothing of the bench can open the unit's mains.
    [[nodiscard]] virtual MainsSwitch* mains_switch() { return nullptr; }
};

}  // namespace afterload::instruments
