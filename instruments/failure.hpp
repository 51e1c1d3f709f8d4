/// The bench failed: which instrument, what was asked, what came back, after how long.
#pragma once

#include "analysis/quantity.hpp"

#include <tl/expected.hpp>

#include <string>
#include <string_view>

namespace afterload::instruments {

struct BenchFailure {
    enum class Kind {
        no_reply,     ///< a meter that does not answer, a card that delivers no frames
        wrong_reply,  ///< another instrument's identity, text where a number is due
        refused,      ///< a level over the source's range, a range that does not exist
        lost          ///< unplugged, connection closed
    };
    Kind kind = Kind::no_reply;
    std::string instrument;  ///< "simulated card"
    std::string asked;       ///< "record 0.4 s"
    std::string answered;    ///< what came back, in words
    Seconds after;           ///< how long it took to fail
};

[[nodiscard]] std::string_view name(BenchFailure::Kind kind);

/// One line: "simulated card: asked to record 0.4 s: device lost after 0.02 s".
[[nodiscard]] std::string text(const BenchFailure& failure);

template <class T>
using BenchResult = tl::expected<T, BenchFailure>;

}  // namespace afterload::instruments
