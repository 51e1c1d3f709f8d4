#include "instruments/monotonic.hpp"

#include <chrono>

namespace afterload::instruments {

Seconds monotonic_now() {
    const auto since = std::chrono::steady_clock::now().time_since_epoch();
    return Seconds{std::chrono::duration<double>(since).count()};
}

}  // namespace afterload::instruments
