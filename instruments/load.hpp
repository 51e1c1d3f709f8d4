/// The dummy loads and the relay that connects them.
#pragma once

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
    [[nodiscard]] virtual Task<BenchResult<void>> connect() = 0;
    /// Lets go of both channels. Only after the drive is muted and the output has died away.
    [[nodiscard]] virtual Task<BenchResult<void>> release() = 0;
};

}  // namespace afterload::instruments
