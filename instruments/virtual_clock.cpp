#include "instruments/virtual_clock.hpp"

namespace afterload::instruments {

Task<void> VirtualClock::sleep(Seconds duration) {
    co_await give_way();
    if (duration > Seconds{0.0}) {
        world_.advance(duration);
    }
}

}  // namespace afterload::instruments
