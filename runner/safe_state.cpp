#include "runner/safe_state.hpp"

namespace afterload::runner {

using instruments::Task;

Task<SafeState> make_safe(instruments::Bench& bench) {
    SafeState state;
    state.muted = true;
    for (instruments::Source* source : {&bench.source(), bench.generator()}) {
        bool silent = source == nullptr;
        for (int attempt = 0; attempt < 3 && !silent; ++attempt) {
            const auto muted = co_await source->mute();
            silent = muted.has_value();
            if (!muted) {
                state.failures.push_back(instruments::text(muted.error()));
            }
        }
        state.muted = state.muted && silent;
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
