/// The dummy loads and what connects them.
#pragma once

#include "analysis/quantity.hpp"
#include "instruments/async.hpp"
#include "instruments/failure.hpp"

#include <string>

namespace afterload::instruments {

class Load {
public:
    Load() = default;
    Load(const Load&) = delete;
    Load& operator=(const Load&) = delete;
    virtual ~Load() = default;

    [[nodiscard]] virtual std::string identity() const = 0;
    [[nodiscard]] virtual bool connected() const = 0;
    /// Can release() let go of it? Loads wired for good stay connected.
    [[nodiscard]] virtual bool switched() const { return true; }
    /// Puts the loads of `resistance` (same_load()) on both channels, with the drive muted. What
    /// else was connected is let go of first: two loads at once would be a third.
    ///
    /// Fails   with `refused` where the bench has no such load.
    [[nodiscard]] virtual Task<BenchResult<void>> connect(Ohms resistance) = 0;
    /// Lets go of both channels. Only after the drive is muted and the output has died away.
    [[nodiscard]] virtual Task<BenchResult<void>> release() = 0;
};

/// What connect() fails with: "there is no such load", or why nobody connected it.
[[nodiscard]] BenchFailure load_refused(std::string instrument, Ohms resistance,
                                        std::string why = "there is no such load");

}  // namespace afterload::instruments
