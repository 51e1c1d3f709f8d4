/// Why a run cannot go on: one line for the person, and what kind of ending it is.
#pragma once

#include "instruments/failure.hpp"

#include <tl/expected.hpp>

#include <string>

namespace afterload::runner {

struct Trouble {
    enum class Kind {
        bench_failed,  ///< an instrument did not do what it was asked
        limit,         ///< going on would pass a limit of the bench or the unit
        gate,          ///< a reading that must be good before anything is driven was not
        person,        ///< the person at the bench stopped the run
        disk,          ///< the run's folder cannot be written
        safety,        ///< a soak ended itself: what was seen asked for it
        signalled      ///< the process was told to end
    };
    Kind kind = Kind::bench_failed;
    std::string what;
};

template <class T>
using RunResult = tl::expected<T, Trouble>;

[[nodiscard]] inline tl::unexpected<Trouble> trouble(Trouble::Kind kind, std::string what) {
    return tl::unexpected(Trouble{kind, std::move(what)});
}

[[nodiscard]] inline tl::unexpected<Trouble> trouble(const instruments::BenchFailure& failure) {
    return trouble(Trouble::Kind::bench_failed, instruments::text(failure));
}

}  // namespace afterload::runner
