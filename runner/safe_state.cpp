#include "runner/safe_state.hpp"

namespace afterload::runner {

using instruments::Task;

Task<SafeState> make_safe(instruments::Bench& bench) {
    SafeState state;
    for (int attempt = 0; attempt < 3 && !state.muted; ++attempt) {
        const auto muted = co_await bench.source().mute();
        state.muted = muted.has_value();
        if (!muted) {
            state.failures.push_back(instruments::text(muted.error()));
        }
    }
    if (!state.muted) {
        co_return state;
    }
    co_await bench.clock().sleep(Seconds{0.3});
    for (int attempt = 0; attempt < 3 && !state.released; ++attempt) {
        const auto released = co_await bench.load().release();
        state.released = released.has_value();
        if (!released) {
            state.failures.push_back(instruments::text(released.error()));
        }
    }
    co_return state;
}

}  // namespace afterload::runner
